"""Asking the server: urllib3, one connection pool, bounded waits, failures in plain sentences."""

from __future__ import annotations

import json
import unicodedata
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any
from urllib.parse import urlencode

import urllib3
from urllib3.exceptions import HTTPError, LocationParseError
from urllib3.util import Retry, Timeout, parse_url

from sparewell.cli.failures import NO, UNREACHABLE, WRONG_USAGE, Failure
from sparewell.configuration import Configuration

WAIT_SECONDS = 10.0
LONGEST_RETRY_AFTER_SECONDS = 10
MOST_PAGES = 10_000
_PIECE_BYTES = 64 * 1024
_GET_TRIES_AGAIN = Retry(
    total=3,
    backoff_factor=0.2,
    status_forcelist=(429, 503),
    allowed_methods=frozenset({"GET"}),
    respect_retry_after_header=True,
    raise_on_status=False,
    redirect=0,
    raise_on_redirect=False,
    retry_after_max=LONGEST_RETRY_AFTER_SECONDS,
)
_EXIT_STATUS_OF = {400: UNREACHABLE, 401: UNREACHABLE, 403: UNREACHABLE, 422: WRONG_USAGE}
_JSON_BODY = "application/json"
_ANY_BODY = "application/octet-stream"
_SERVER_ERROR = 500
_REDIRECT = 300
_REFUSED = 400
_UNAUTHORIZED = 401


@dataclass(frozen=True)
class ServerAnswer:
    """What the server said: the text as it came, and what it means (numbers as decimals)."""

    text: str
    body: Any


class RefusedByServer(Failure):
    """The server refused, and this is its problem document."""

    def __init__(self, message: str, exit_status: int, document: Mapping[str, Any]) -> None:
        super().__init__(message, exit_status)
        self.document = document


class Client:
    """One server, one token."""

    def __init__(self, configuration: Configuration, wait_seconds: float = WAIT_SECONDS) -> None:
        self._url = _checked_url(configuration.url)
        self._has_token = configuration.token is not None
        self._headers = _headers(configuration)
        self._pool = urllib3.PoolManager(timeout=Timeout(connect=WAIT_SECONDS, read=wait_seconds))

    def get(self, path: str, query: Mapping[str, str] | None = None) -> ServerAnswer:
        """Fetch a document. Raises :class:`Failure`."""
        return self._ask("GET", f"{path}?{urlencode(query)}" if query else path, None)

    def post(self, path: str, body: Mapping[str, Any]) -> ServerAnswer:
        """Send a document and return the answer; never sent twice. Raises :class:`Failure`."""
        return self._ask("POST", path, json.dumps(body).encode())

    def post_file(self, path: str, data: bytes, query: Mapping[str, str]) -> ServerAnswer:
        """Send a file as it is; the server finds out what it is. Raises :class:`Failure`."""
        return self._ask("POST", f"{path}?{urlencode(query)}" if query else path, data, _ANY_BODY)

    def download(self, path: str, write: Callable[[bytes], object]) -> None:
        """Fetch a file of any size, a piece at a time. Raises :class:`Failure`."""
        try:
            response = self._pool.request(
                "GET",
                self._url + path,
                headers=self._headers,
                retries=_GET_TRIES_AGAIN,
                preload_content=False,
            )
            with response:
                if response.status >= _REDIRECT:
                    raise self._refusal(response.status, self._document(response.data))
                for piece in response.stream(_PIECE_BYTES):
                    write(piece)
        except HTTPError as error:
            raise self._no_answer(error) from error

    def every(self, path: str, plural: str, query: Mapping[str, str]) -> Iterator[Any]:
        """Go through a list to its end, a page at a time."""
        answer = self.get(path, query)
        for _ in range(MOST_PAGES):
            yield from self._member(answer, plural)
            following = self._member(answer, "next")
            if following is None:
                return
            if not isinstance(following, str) or not following.startswith(f"{path}?"):
                raise self._stranger()
            answer = self.get(following)
        raise Failure(f"the list {path} has no end", UNREACHABLE)

    def _member(self, answer: ServerAnswer, name: str) -> Any:
        if not isinstance(answer.body, dict) or name not in answer.body:
            raise self._stranger()
        return answer.body[name]

    def _ask(
        self, method: str, path: str, body: bytes | None, body_type: str = _JSON_BODY
    ) -> ServerAnswer:
        headers = self._headers if body is None else {**self._headers, "Content-Type": body_type}
        retries = _GET_TRIES_AGAIN if method == "GET" else Retry(total=False)
        try:
            response = self._pool.request(
                method, self._url + path, body=body, headers=headers, retries=retries
            )
        except (HTTPError, OSError) as error:
            raise self._no_answer(error) from error
        document = self._document(response.data)
        if response.status >= _REFUSED:
            raise self._refusal(response.status, document)
        if response.status >= _REDIRECT:
            raise self._stranger()
        return ServerAnswer(response.data.decode(), document)

    def _document(self, data: bytes) -> Any:
        try:
            return json.loads(data.decode(), parse_float=Decimal)
        except (ValueError, RecursionError) as error:
            raise self._stranger() from error

    def _no_answer(self, error: Exception) -> Failure:
        return Failure(
            f"no answer from {self._url} ({_cause(error)}); is `sparewell serve` running "
            "there? SPAREWELL_URL says where to look",
            UNREACHABLE,
        )

    def _stranger(self) -> Failure:
        return Failure(f"what answers at {self._url} is no Sparewell server", UNREACHABLE)

    def _refusal(self, status: int, document: Any) -> Failure:
        if not isinstance(document, dict) or not isinstance(document.get("detail"), str):
            return self._stranger()
        lines = [document["detail"], *_located(document)]
        if status == _UNAUTHORIZED:
            lines.append(
                "SPAREWELL_TOKEN holds the token that was sent"
                if self._has_token
                else "set SPAREWELL_TOKEN; `sparewell token new NAME --scope read` makes a token"
            )
        default = UNREACHABLE if status >= _SERVER_ERROR else NO
        return RefusedByServer("\n  ".join(lines), _EXIT_STATUS_OF.get(status, default), document)


def _checked_url(text: str) -> str:
    try:
        url = parse_url(text)
    except LocationParseError:
        url = None
    if url is None or url.scheme not in {"http", "https"} or not url.host or url.query or url.auth:
        raise Failure(
            f"SPAREWELL_URL: {text!r} is no address of a server; give http://NAME:PORT", UNREACHABLE
        )
    return text.rstrip("/")


def _headers(configuration: Configuration) -> dict[str, str]:
    headers = {"Accept": "application/json, application/problem+json", "User-Agent": "sparewell"}
    if configuration.token is not None:
        if not configuration.token.isascii() or not configuration.token.isprintable():
            raise Failure("SPAREWELL_TOKEN has characters in it that no token has", WRONG_USAGE)
        headers["Authorization"] = f"Bearer {configuration.token}"
    if configuration.person is not None:
        if any(
            unicodedata.category(character) in {"Cc", "Cs"} for character in configuration.person
        ):
            raise Failure("SPAREWELL_PERSON has characters in it that no name has", WRONG_USAGE)
        # A header holds bytes; the transport spells them as Latin-1, the server reads UTF-8.
        headers["Sparewell-Person"] = configuration.person.encode().decode("latin-1")
    return headers


def _located(document: Mapping[str, Any]) -> list[str]:
    """Return each located fault that the headline does not tell already."""
    lines = []
    errors = document.get("errors")
    for item in errors if isinstance(errors, list) else []:
        if not isinstance(item, dict):
            continue
        where = item.get("parameter") or str(item.get("pointer", "")).lstrip("/")
        line = f"{where}: {item.get('detail')}" if where else str(item.get("detail"))
        if line not in document["detail"]:
            lines.append(line)
    return lines


def _cause(error: Exception) -> str:
    """Return the innermost reason, without the addresses of objects that urllib3 prints."""
    reason = getattr(error, "reason", None)
    inner = reason if isinstance(reason, Exception) else error
    cause = inner.__cause__ or inner
    if isinstance(cause, OSError) and cause.strerror:
        return cause.strerror.lower()
    return {
        "ConnectTimeoutError": f"nothing within {WAIT_SECONDS:.0f} seconds",
        "ReadTimeoutError": f"nothing within {WAIT_SECONDS:.0f} seconds",
        "NameResolutionError": "the name is not known",
    }.get(type(inner).__name__, type(inner).__name__)
