"""A person at the bench page: pages as they are seen, forms as a browser sends them unscripted."""

from __future__ import annotations

import re
import secrets
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urlsplit

from flask import Flask

from sparewell.bench.pages import COOKIE
from sparewell.bench.sessions import form_token

_EMPTY = frozenset({"input", "link", "meta", "br", "hr", "img"})
_CLOSED_BY_OTHERS = frozenset({"p", "li", "dt", "dd", "option", "tr", "td", "th"})
_UNSEEN = frozenset({"script", "style", "head", "option", "title"})
_REDIRECTS = frozenset({301, 302, 303, 307, 308})
_FAULT = "-fault"


@dataclass
class Form:
    """A form of a page: where it goes, and what it would send as it stands."""

    method: str
    action: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    buttons: list[tuple[str, str, str]] = field(default_factory=list)
    offered: dict[str, list[str]] = field(default_factory=dict)

    def __getitem__(self, name: str) -> str:
        """What a field holds."""
        return dict(self.fields)[name]

    def has_button(self, said: str) -> bool:
        """Whether there is a button that says this; any will do where nothing is said."""
        return not said or any(each[0] == said for each in self.buttons)


@dataclass
class Page:
    """What came back, as it is read."""

    address: str
    status: int
    html: str
    headers: Any
    text: str = ""
    title: str = ""
    forms: list[Form] = field(default_factory=list)
    links: dict[str, str] = field(default_factory=dict)
    labels: dict[str, str] = field(default_factory=dict)
    faults: dict[str, str] = field(default_factory=dict)
    problems: list[str] = field(default_factory=list)

    @property
    def path(self) -> str:
        """Where the browser is, without the query."""
        return urlsplit(self.address).path

    def form(self, action: str, button: str = "") -> Form:
        """Return the form that is sent to an address by a button; there must be exactly one."""
        found = [
            each
            for each in self.forms
            if urlsplit(each.action).path == action and each.has_button(button)
        ]
        seen = [(each.action, each.buttons) for each in self.forms]
        assert len(found) == 1, (action, button, seen, self.text)
        return found[0]


class _Reader(HTMLParser):
    """Reads a page's text, forms, links and refusals."""

    def __init__(self, page: Page) -> None:
        super().__init__(convert_charrefs=True)
        self.page = page
        self.stack: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self.heard: list[tuple[int, list[str]]] = []
        self.select: tuple[str, list[tuple[str, bool]]] | None = None
        self.by_id: dict[str, Form] = {}
        self.elsewhere: list[tuple[str, str, str, bool]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Open an element."""
        told = dict(attrs)
        assert "style" not in told, f"the policy forbids a style at <{tag}>"
        assert not any(name.startswith("on") for name in told), f"a script at <{tag}>"
        if tag == "form":
            action = told.get("action") or urlsplit(self.page.address).path
            form = Form((told.get("method") or "get").upper(), action)
            self.page.forms.append(form)
            self.by_id[told.get("id") or ""] = form
        elif tag == "input":
            self._input(told)
        elif tag == "select":
            self.select = (told.get("name") or "", [])
        elif tag == "option" and self.select is not None:
            self.select[1].append((told.get("value") or "", "selected" in told))
        if tag not in _EMPTY:
            self.stack.append((tag, told))
            self.heard.append((len(self.stack), []))

    def _input(self, told: Mapping[str, str | None]) -> None:
        is_tick = told.get("type") in {"checkbox", "radio"}
        name, is_sent = told.get("name"), not is_tick or "checked" in told
        value = told.get("value") or ("on" if is_tick else "")
        if name and told.get("form"):
            self.elsewhere.append((str(told["form"]), name, value, is_sent))
        elif name and self.page.forms:
            _add(self.page.forms[-1], name, value, is_sent=is_sent)

    def close(self) -> None:
        """Give fields that stand outside their form to it."""
        super().close()
        for form_id, name, value, is_sent in self.elsewhere:
            if form_id not in self.by_id:  # a part of a page, whose form stands beside it
                continue
            _add(self.by_id[form_id], name, value, is_sent=is_sent)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Read an element that closes itself."""
        self.handle_starttag(tag, attrs)
        if tag not in _EMPTY:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        """Close an element, and note what it said."""
        assert self.stack, (self.page.address, tag)
        opened, told = self.stack.pop()
        while opened != tag and opened in _CLOSED_BY_OTHERS:
            self.heard.pop()
            opened, told = self.stack.pop()
        assert opened == tag, f"<{opened}> is closed by </{tag}>"
        said = " ".join(" ".join(self.heard.pop()[1]).split())
        self._note(tag, told, said)

    def _note(self, tag: str, told: Mapping[str, str | None], said: str) -> None:
        spoken = told.get("aria-label") or said
        classes = (told.get("class") or "").split()
        if tag == "a" and told.get("href"):
            self.page.links[spoken] = str(told["href"])
        elif tag == "label" and told.get("for"):
            self.page.labels[str(told["for"])] = said
        elif tag == "title":
            self.page.title = said
        elif tag == "textarea" and told.get("name") and self.page.forms:
            self.page.forms[-1].fields.append((str(told["name"]), said))
        elif tag == "button" and self.page.forms:
            pressed = (spoken, told.get("name") or "", told.get("value") or "")
            self.page.forms[-1].buttons.append(pressed)
        elif tag == "select" and self.select is not None:
            name, options = self.select
            chosen = [value for value, is_chosen in options if is_chosen]
            if options and self.page.forms:
                self.page.forms[-1].offered[name] = [value for value, _ in options]
                self.page.forms[-1].fields.append((name, (chosen or [options[0][0]])[0]))
            self.select = None
        if "problem" in classes:
            self.page.problems.append(said)
            if (told.get("id") or "").endswith(_FAULT):
                self.page.faults[str(told["id"]).removesuffix(_FAULT)] = said

    def handle_data(self, data: str) -> None:
        """Note words where they stand."""
        for _, words in self.heard:
            words.append(data)
        if not any(tag in _UNSEEN for tag, _ in self.stack):
            self.words.append(data)


def _add(form: Form, name: str, value: str, *, is_sent: bool) -> None:
    form.offered.setdefault(name, []).append(value)
    if is_sent:
        form.fields.append((name, value))


def read_page(address: str, status: int, html: str, headers: Any) -> Page:
    """Return a page as it is read."""
    page = Page(address, status, html, headers)
    if "html" in (headers.get("Content-Type") or ""):
        reader = _Reader(page)
        reader.feed(html)
        reader.close()
        page.text = re.sub(r"\s+", " ", " ".join(reader.words)).strip()
    return page


class Bench:
    """A browser without a script, signed in with a token."""

    def __init__(
        self, app: Flask, token: str | None, person: str = "", host: str = "localhost"
    ) -> None:
        self.client = app.test_client()
        self.host = host
        self.form_token = ""
        if token is not None:
            self.sign_in(token, person)

    def sign_in(self, token: str, person: str = "") -> Page:
        """Sign in; note what every form of the session carries."""
        sent = {"token": token, "person": person, "to": "/measure"}
        page = self._read("POST", "/sign-in", sent)
        cookie = self.client.get_cookie(COOKIE, self.host.split(":")[0])
        self.form_token = form_token(cookie.value) if cookie else ""
        return page

    def get(self, path: str, **headers: str) -> Page:
        """Open a page."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        return self._read("GET", path, headers=sent)

    def post(self, path: str, fields: Mapping[str, Any] | None = None, /, **more: Any) -> Page:
        """Send a form of this session, and go where the browser is sent."""
        own = {"form_token": self.form_token, "form_key": secrets.token_hex(8)}
        return self._read("POST", path, own | dict(fields or {}) | more)

    def send(self, page: Page, action: str, button: str = "", /, **typed: Any) -> Page:
        """Fill in a form of a page, press its button (by what it says), go where one is sent."""
        form = page.form(action, button)
        sent: dict[str, Any] = {}
        for name, value in form.fields:
            sent.setdefault(name, []).append(value)
        pressed = [each for each in form.buttons if not button or each[0] == button]
        assert pressed, (button, form.buttons)
        if pressed[0][1]:
            sent[pressed[0][1]] = pressed[0][2]
        sent |= typed
        if form.method == "GET":
            return self._read("GET", form.action, query=_flat(sent))
        return self._read("POST", form.action, sent)

    def _read(
        self,
        method: str,
        path: str,
        data: Mapping[str, Any] | None = None,
        *,
        query: list[tuple[str, str]] | None = None,
        headers: Mapping[str, str] | None = None,
    ) -> Page:
        answer = self.client.open(
            path,
            base_url=f"http://{self.host}",
            method=method,
            data=data,
            query_string=query,
            headers=dict(headers or {}),
        )
        address = answer.request.full_path.rstrip("?")
        if answer.status_code in _REDIRECTS:
            return self._read("GET", answer.headers["Location"], headers=headers)
        text = answer.get_data(as_text=True)
        return read_page(address, answer.status_code, text, answer.headers)


def _flat(sent: Mapping[str, Any]) -> list[tuple[str, str]]:
    return list(_pairs(sent))


def _pairs(sent: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    for name, value in sent.items():
        for each in value if isinstance(value, list) else [value]:
            yield name, str(each)
