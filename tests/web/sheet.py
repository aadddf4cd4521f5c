"""A page read as a browser without a script reads it: its links by their words, its forms with what stands in them."""

from __future__ import annotations

from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import Any
from urllib.parse import urljoin, urlsplit

from starlette.testclient import TestClient

Photo = tuple[str, bytes]


@dataclass
class Form:
    """A form as it stands on a page: what would be sent if it were sent untouched."""

    action: str
    name: str
    outbox: bool
    refresh: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    offered: dict[str, list[str]] = field(default_factory=dict)
    """Values of choices and lists by the name of the field."""
    buttons: list[str] = field(default_factory=list)

    def with_(self, **values: str | list[str]) -> list[tuple[str, str]]:
        """What is sent after somebody filled in `values`; a name with a trailing _ is without it."""
        given = {name.rstrip("_"): value for name, value in values.items()}
        for name, value in given.items():
            wanted = value if isinstance(value, list) else [value]
            if name in self.offered:
                assert set(wanted) <= set(self.offered[name]), f"{name} offers {self.offered[name]}, not {wanted}"
            else:
                assert any(key == name for key, _ in self.fields), f"there is no field {name}"
        kept = [(name, value) for name, value in self.fields if name not in given]
        return kept + [
            (name, one) for name, value in given.items() for one in (value if isinstance(value, list) else [value])
        ]

    def value(self, name: str) -> str:
        return next(value for key, value in self.fields if key == name)


class Sheet(HTMLParser):
    """`links`: (words, address, attributes); words are the accessible name. `text`: all that can be read."""

    def __init__(self, response: Any) -> None:
        super().__init__()
        self.status: int = response.status_code
        self.links: list[tuple[str, str, dict[str, str]]] = []
        self.forms: list[Form] = []
        self.text = ""
        self.ids: list[str] = []
        self._link: tuple[dict[str, str], list[str]] | None = None
        self._form: Form | None = None
        self._button: list[str] | None = None
        self._select = self._skip = ""
        self._area: tuple[str, list[str]] | None = None
        self.feed(response.text)

    def form(self, name: str = "", *, button: str = "") -> Form:
        """The one form of that name, or with that button."""
        found = [form for form in self.forms if (name and form.name == name) or (button and button in form.buttons)]
        assert len(found) == 1, f"{len(found)} forms; there are {[(form.name, form.buttons) for form in self.forms]}"
        return found[0]

    def link(self, words: str) -> str:
        """Address of the first link of these words."""
        return next(address for name, address, _ in self.links if name == words)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = {name: value or "" for name, value in attrs}
        if "id" in has:
            self.ids.append(has["id"])
        if tag in ("script", "style", "template"):
            self._skip = tag
        elif tag == "a" and "href" in has:
            self._link = (has, [])
        elif tag == "form" and not self._skip:
            self._form = Form(
                has.get("action", ""), has.get("aria-label", ""), "data-outbox" in has, has.get("data-refresh", "")
            )
            self.forms.append(self._form)
        elif self._form is not None:
            self._control(tag, has)

    def _control(self, tag: str, has: dict[str, str]) -> None:
        assert self._form is not None
        name, kind = has.get("name", ""), has.get("type", "text")
        if tag == "input" and kind in ("radio", "checkbox"):
            self._form.offered.setdefault(name, []).append(has.get("value", ""))
            if "checked" in has:
                self._form.fields.append((name, has.get("value", "")))
        elif tag == "input" and kind != "file":
            self._form.fields.append((name, has.get("value", "")))
        elif tag == "textarea":
            self._area = (name, [])
        elif tag == "select":
            self._select = name
        elif tag == "option":
            values = self._form.offered.setdefault(self._select, [])
            # Without one that is chosen, the first counts.
            if "selected" in has or not values:
                self._form.fields = [pair for pair in self._form.fields if pair[0] != self._select]
                self._form.fields.append((self._select, has.get("value", "")))
            values.append(has.get("value", ""))
        elif tag == "button":
            self._button = []
            if name:
                self._form.offered.setdefault(name, []).append(has.get("value", ""))

    def handle_endtag(self, tag: str) -> None:
        if tag == self._skip:
            self._skip = ""
        elif tag == "a" and self._link is not None:
            has, words = self._link
            self.links.append((has.get("aria-label") or " ".join("".join(words).split()), has["href"], has))
            self._link = None
        elif tag == "form":
            self._form = None
        elif tag == "textarea" and self._area is not None and self._form is not None:
            self._form.fields.append((self._area[0], "".join(self._area[1])))
            self._area = None
        elif tag == "button" and self._button is not None and self._form is not None:
            self._form.buttons.append(" ".join("".join(self._button).split()))
            self._button = None

    def handle_data(self, data: str) -> None:
        if self._skip:
            return
        self.text += data
        for gathering in (self._link and self._link[1], self._area and self._area[1], self._button):
            if gathering is not None:
                gathering.append(data)


def read(client: TestClient, address: str, **headers: str) -> Sheet:
    """The page at an address (the part after # stays with the browser)."""
    return Sheet(client.get(address.partition("#")[0], headers=headers))


def send(
    client: TestClient, form: Form, *, photos: list[Photo] | None = None, outbox: bool = False, **values: Any
) -> Any:
    """Send a form as a browser does; with `outbox` as our script does."""
    files = [("photos", (name, data, "image/jpeg")) for name, data in photos or []]
    # A form that may carry files is sent in parts, also without any.
    parts: list[Any] = [(name, (None, value.encode())) for name, value in form.with_(**values)]
    return client.post(form.action, files=parts + files, headers={"x-outbox": "1"} if outbox else {})


def follow(client: TestClient, response: Any) -> Sheet:
    """The page to which an answer leads."""
    assert response.status_code == 303, (response.status_code, response.text[:400])
    address = urljoin("http://127.0.0.1/", response.headers["location"])
    parts = urlsplit(address)
    return read(client, parts.path + (f"?{parts.query}" if parts.query else ""))
