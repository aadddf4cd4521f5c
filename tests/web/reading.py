"""A page as somebody reads it: its words, its links, what stands in its forms."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from html.parser import HTMLParser

SILENT = frozenset({"script", "style", "template", "head", "title", "desc"})
"""What is not read out as running text; `title` and `desc` are those of pictures."""
VOID = frozenset({"meta", "link", "input", "img", "br", "hr"})


@dataclass
class Control:
    name: str
    value: str
    kind: str
    """`text`, `radio`, `checkbox`, `select`, `hidden`, `file`, `area`, `button`"""
    on: bool = True
    """Of a radio or checkbox: chosen."""


@dataclass
class PageForm:
    action: str
    method: str
    controls: list[Control] = field(default_factory=list)

    def sent(self) -> list[tuple[str, str]]:
        """What a browser would send if nothing were touched."""
        return [
            (one.name, one.value) for one in self.controls if one.name and one.on and one.kind not in ("file", "button")
        ]

    def value(self, name: str) -> str:
        found = [value for key, value in self.sent() if key == name]
        assert len(found) == 1, f"{name}: {found}"
        return found[0]

    def values(self, name: str) -> list[str]:
        return [value for key, value in self.sent() if key == name]


@dataclass
class Read:
    text: str
    links: dict[str, str]
    """Address -> words."""
    ids: list[str]
    forms: list[PageForm]
    titles: list[str]
    """Of pictures."""

    def form(self, action: str) -> PageForm:
        found = [one for one in self.forms if one.action == action]
        assert len(found) == 1, [one.action for one in self.forms]
        return found[0]


class _Reader(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.links: dict[str, str] = {}
        self.ids: list[str] = []
        self.forms: list[PageForm] = []
        self.titles: list[str] = []
        self.open: list[str] = []
        self.link = ""
        self.select: Control | None = None
        self.area: Control | None = None

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        has = dict(attrs)
        if tag not in VOID:
            self.open.append(tag)
        if "template" in self.open:
            return
        if has.get("id"):
            self.ids.append(has["id"] or "")
        if tag == "a":
            self.link = has.get("href") or ""
            self.links[self.link] = ""
        if tag == "form":
            self.forms.append(PageForm(has.get("action") or "", (has.get("method") or "get").lower()))
        self._control(tag, has)

    def _control(self, tag: str, has: dict[str, str | None]) -> None:
        if not self.forms:
            return
        controls, name = self.forms[-1].controls, has.get("name") or ""
        if tag == "input":
            kind = has.get("type") or "text"
            on = kind not in ("radio", "checkbox") or "checked" in has
            controls.append(Control(name, has.get("value") or "", kind, on))
        elif tag == "button":
            controls.append(Control(name, has.get("value") or "", "button"))
        elif tag == "textarea":
            self.area = Control(name, "", "area")
            controls.append(self.area)
        elif tag == "select":
            self.select = Control(name, "", "select", on=False)
            controls.append(self.select)
        elif tag == "option" and self.select is not None and ("selected" in has or not self.select.on):
            # The first option stands there when none is chosen.
            self.select.value, self.select.on = has.get("value") or "", True

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in self.open:
            while self.open.pop() != tag:
                pass
        if tag == "a":
            self.link = ""
        if tag == "select":
            self.select = None
        if tag == "textarea":
            self.area = None

    def handle_data(self, data: str) -> None:
        if self.area is not None:
            self.area.value += data
        if "svg" in self.open and self.open[-1] == "title":
            self.titles.append(data)
        if SILENT.intersection(self.open):
            return
        if self.link:
            self.links[self.link] += data
        self.words.append(data)


def read(html: str) -> Read:
    reader = _Reader()
    reader.feed(html)
    return Read(
        text=re.sub(r"\s+", " ", " ".join(reader.words)).strip(),
        links={to: " ".join(words.split()) for to, words in reader.links.items()},
        ids=reader.ids,
        forms=reader.forms,
        titles=reader.titles,
    )


def flat(html: str) -> str:
    """The words of a page, one space between them."""
    return read(html).text
