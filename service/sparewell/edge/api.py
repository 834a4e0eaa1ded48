"""Our flask-smorest: problem documents, strict bodies, one unit of work a request.

Plugins never meet this module; leaving flask-smorest would be a change of this file.
"""

from __future__ import annotations

import http
import unicodedata
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, cast

import flask
import flask_smorest
import marshmallow as ma
from flask import Flask, Request, Response, current_app
from flask_smorest.spec.plugins import FlaskPlugin
from flask_smorest.utils import prepare_response
from webargs.flaskparser import FlaskParser
from webargs.multidictproxy import MultiDictProxy
from werkzeug.exceptions import BadRequest, HTTPException, UnsupportedMediaType
from werkzeug.routing import BaseConverter

from sparewell.edge.errors import PROBLEM_TYPE, ProblemSchema, http_response
from sparewell.edge.fields import NUMBER_PATTERN
from sparewell.edge.raw_body import documented, takes_raw_body
from sparewell.edge.unit_of_work import KEY_HEADER, in_unit_of_work

View = Callable[..., Any]
Decorator = Callable[[View], View]

JSON_TYPE = "application/json"
HIGHEST_ROW = 10**18 - 1
_ERRORS_OF_EVERY_OPERATION = (400, 401, 403, 404, 405, 409, 413, 415, 422, 429, 503)
_ERRORS_WITHOUT_BODY = (400, 401, 403, 404, 405, 422, 429, 503)


class StrictParser(FlaskParser):
    """Bodies must be JSON and say so; nothing at all counts as `{}`; unknown names are refused."""

    DEFAULT_UNKNOWN_BY_LOCATION = {"json": None, "query": ma.RAISE, "path": ma.RAISE}  # noqa: RUF012 - webargs declares it so

    def load_querystring(self, req: Request, schema: ma.Schema) -> MultiDictProxy:
        """Return the query; a member given twice would have to be read as one of the two."""
        twice = [name for name, values in req.args.lists() if len(values) > 1]
        if twice:
            raise ma.ValidationError({name: ["given more than once"] for name in twice})
        query: MultiDictProxy = super().load_querystring(req, schema)
        return query

    def _raw_load_json(self, req: Request) -> Any:
        body = req.get_data(cache=True)
        if not body and req.content_length in (None, 0):
            return {}
        if req.content_encoding not in {None, "", "identity"}:
            raise UnsupportedMediaType("send the body as it is, without Content-Encoding")
        if req.mimetype != JSON_TYPE:
            raise UnsupportedMediaType(f"send the body as {JSON_TYPE}")
        charset = req.mimetype_params.get("charset", "utf-8").lower()
        if charset not in {"utf-8", "utf8", "us-ascii"}:
            raise UnsupportedMediaType("send the body in UTF-8")
        try:
            return current_app.json.loads(body)
        except ValueError as error:
            raise BadRequest(f"the body is not JSON that can be read: {error}") from error


class IdentifierConverter(BaseConverter):
    """A number or a code in an address; anything that could not be one is not found."""

    regex = NUMBER_PATTERN

    def to_python(self, value: str) -> str:
        """Return the text as it is kept."""
        return unicodedata.normalize("NFC", value)


class RowConverter(BaseConverter):
    """The id of a row in an address."""

    regex = "[1-9][0-9]{0,17}"

    def to_python(self, value: str) -> int:
        """Return the id as a number."""
        return int(value)


@dataclass(frozen=True)
class Link:
    """Where an answer leads: an operation, and what of the answer goes into which argument."""

    method: str
    path: str
    arguments: Mapping[str, str]
    body: Mapping[str, str] | None = None

    @property
    def document(self) -> dict[str, Any]:
        """The link as OpenAPI writes it. A change needs the tag that came with the answer."""
        arguments = dict(self.arguments)
        if self.method == "patch":
            arguments["header.If-Match"] = "$response.header.ETag"
        pointer = self.path.replace("~", "~0").replace("/", "~1")
        written = {"operationRef": f"#/paths/{pointer}/{self.method}", "parameters": arguments}
        return written if self.body is None else written | {"requestBody": dict(self.body)}


class Blueprint(flask_smorest.Blueprint):  # type: ignore[misc]
    """A blueprint whose every view runs in a unit of work.

    In the document its views stand in the group `tag`, or where their route says `tags`.
    """

    ARGUMENTS_PARSER = StrictParser()

    def __init__(self, name: str, *args: Any, tag: str | None = None, **kwargs: Any) -> None:
        super().__init__(name, *args, **kwargs)
        self._tag = tag or name
        self._prepare_doc_cbks.append(self._document_shared)

    def add_url_rule(
        self,
        rule: str,
        endpoint: str | None = None,
        view_func: Callable[..., Any] | None = None,
        provide_automatic_options: bool | None = None,  # noqa: FBT001 - Flask's signature
        **options: Any,
    ) -> None:
        """Register a view, wrapped in its unit of work."""
        if view_func is None:
            raise TypeError("a route needs a view")
        options["tags"] = options.get("tags") or [self._tag]
        wrapped = in_unit_of_work(view_func)
        super().add_url_rule(rule, endpoint, wrapped, provide_automatic_options, **options)

    # The decorators below only give flask-smorest's own their types.

    def route(self, rule: str, **options: Any) -> Decorator:
        """Register the decorated view at an address."""
        return cast("Decorator", super().route(rule, **options))

    def arguments(
        self, schema: type[ma.Schema], *, location: str = "json", **options: Any
    ) -> Decorator:
        """Hand the decorated view the checked body, or the checked query."""
        if location == "json":
            # Nothing at all counts as `{}`, so the document asks for a body only where that fails.
            options["required"] = any(field.required for field in schema().load_fields.values())
        # One of it, not one for each request.
        return cast("Decorator", super().arguments(schema(), location=location, **options))

    def doc(self, **described: Any) -> Decorator:
        """Describe the decorated view where no schema can."""
        return cast("Decorator", super().doc(**described))

    def raw_body(self, limit: str, media_types: tuple[str, ...]) -> Decorator:
        """Hand the decorated view the body as it is, up to a limit that a variable sets."""
        described = self.doc(requestBody=documented(media_types))
        return lambda view: described(takes_raw_body(view, limit))

    def response(
        self,
        status_code: int,
        schema: type[ma.Schema] | None = None,
        *,
        links: Mapping[str, Link] | None = None,
        **options: Any,
    ) -> Decorator:
        """Show what the decorated view returns through a schema, and document where it leads."""
        shown = cast("Decorator", super().response(status_code, schema, **options))
        if links is None:
            return shown
        written = {name: link.document for name, link in links.items()}
        linked = self.doc(responses={status_code: {"links": written}})
        return lambda view: linked(shown(view))

    def etag(self, view: View) -> View:
        """Tag the answer of the decorated view, and demand `If-Match` of a PATCH."""
        return cast("View", super().etag(view))

    def add_undocumented_rule(self, rule: str, view: Callable[..., Any], method: str) -> None:
        """Register a view that only says what is not there."""
        wrapped = in_unit_of_work(view)
        flask.Blueprint.add_url_rule(self, rule, view.__name__, wrapped, methods=[method])

    @staticmethod
    def _document_shared(
        doc: dict[str, Any], _info: dict[str, Any], *, method: str, **_more: Any
    ) -> dict[str, Any]:
        """Document the errors that every operation may answer, and the idempotency key."""
        responses = doc.setdefault("responses", {})
        errors = _ERRORS_OF_EVERY_OPERATION if method != "get" else _ERRORS_WITHOUT_BODY
        for status in errors:
            responses.setdefault(status, http.HTTPStatus(status).name)
        if method == "post":
            doc.setdefault("parameters", []).append(
                {
                    "in": "header",
                    "name": KEY_HEADER,
                    "required": False,
                    "description": "a repeat with the same key is given the first answer",
                    "schema": {"type": "string", "pattern": '^"?[!#-~]{1,255}"?$'},
                }
            )
        return doc


class Api(flask_smorest.Api):  # type: ignore[misc]
    """The API of the service: OpenAPI 3.1 with problem documents for every error."""

    ERROR_SCHEMA = ProblemSchema
    DEFAULT_ERROR_RESPONSE_NAME = None

    def __init__(self, app: Flask, *, title: str, version: str, groups: Mapping[str, str]) -> None:
        app.config["OPENAPI_URL_PREFIX"] = "/"
        super().__init__(
            app,
            spec_kwargs={
                "title": title,
                "version": version,
                "openapi_version": "3.1.0",
                "security": [{"token": []}],
                "servers": [{"url": "/"}],
                "flask_plugin": FlaskPlugin(),
                "tags": [{"name": name, "description": text} for name, text in groups.items()],
            },
        )
        self.register_converter(IdentifierConverter, _identifier_schema)
        self.register_converter(RowConverter, _row_schema)
        # An address with an empty step is another one, not a spelling to be redirected.
        app.url_map.merge_slashes = False
        app.url_map.converters["identifier"] = IdentifierConverter
        app.url_map.converters["row"] = RowConverter
        self.spec.components.security_scheme("token", {"type": "http", "scheme": "bearer"})

    def handle_http_exception(self, error: HTTPException) -> Response:
        """Answer every HTTP error with a problem document, its headers kept."""
        return http_response(error)

    def _register_responses(self) -> None:
        """Document each error status as a problem document."""
        for status in http.HTTPStatus:
            response: dict[str, Any] = {"description": status.phrase}
            if status >= http.HTTPStatus.BAD_REQUEST:
                response["schema"] = self.ERROR_SCHEMA
            prepare_response(response, self.spec, PROBLEM_TYPE)
            self.spec.components.response(status.name, response, lazy=True)


def _identifier_schema(_converter: BaseConverter) -> dict[str, Any]:
    return {"type": "string", "pattern": f"^{NUMBER_PATTERN}$"}


def _row_schema(_converter: BaseConverter) -> dict[str, Any]:
    return {"type": "integer", "minimum": 1, "maximum": HIGHEST_ROW}
