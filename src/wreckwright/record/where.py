"""Say where in a record something stands: the line of the file, the list, the row, its handle, the field.

A path is a tuple of keys and row indices (counted from 0), e.g. `("findings", 2, "severity")`.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Path = tuple[str | int, ...]

_DEEPEST = 12
"""Below this nesting no lines are noted; the nearest place above is named instead."""


def line_of(lines: Mapping[Path, int], path: Path) -> int | None:
    """Line of `path`, or of the nearest place above it that has one; None if there is none.

    >>> line_of({("findings", 0): 4}, ("findings", 0, "severity"))
    4
    """
    for end in range(len(path), 0, -1):
        if path[:end] in lines:
            return lines[path[:end]]
    return None


def place(path: Path, *, handle: str = "", line: int | None = None) -> str:
    """Readable place; rows are counted from 1.

    >>> place(("findings", 2, "severity"), handle="rim", line=41)
    'line 41, findings row 3 (rim), severity'
    >>> place(("calendar", "weekday_minutes", 0))
    'calendar, weekday_minutes entry 1'
    >>> place(())
    'the whole file'
    """
    words: list[str] = [] if line is None else [f"line {line}"]
    for depth, step in enumerate(path):
        if isinstance(step, str):
            words.append(step if step.isprintable() and step.strip() else repr(step))
        elif depth == 1:
            words[-1] += f" row {step + 1}" + (f" ({handle})" if handle else "")
        else:
            words[-1] += f" entry {step + 1}"
    return ", ".join(words) or "the whole file"


def handle_at(raw: Any, path: Path) -> str:
    """The handle written in the row that `path` goes through, or empty.

    >>> handle_at({"parts": [{"id": "pump"}]}, ("parts", 0, "state"))
    'pump'
    """
    try:
        handle = raw[path[0]][path[1]]["id"]
    except (KeyError, IndexError, TypeError):
        return ""
    return handle if isinstance(handle, str) and handle.isprintable() else ""


def toml_lines(text: str) -> dict[Path, int]:
    """Line on which each key, row and entry of a well-formed TOML text begins (lines counted from 1).

    It only has to find places in text that the TOML reader has accepted; of anything else it notes what it can.

    >>> toml_lines("year = 2019\\n[[parts]]\\nname = 'pump'\\n")[("parts", 0, "name")]
    3
    """
    return _Scanner(text).run()


class _Scanner:
    def __init__(self, text: str) -> None:
        self.text = text
        self.end = len(text)
        self.at = 0
        self.line = 1
        self.found: dict[Path, int] = {}
        self.rows: dict[Path, int] = {}

    def run(self) -> dict[Path, int]:
        here: Path = ()
        while True:
            self._skip_blank()
            if self.at >= self.end:
                return self.found
            if self.text[self.at] == "[":
                here = self._header()
            else:
                self._pair(here, depth=0)
            self._to_line_end()

    def _note(self, path: Path) -> None:
        self.found.setdefault(path, self.line)

    def _move(self, count: int = 1) -> None:
        self.line += self.text.count("\n", self.at, self.at + count)
        self.at += count

    def _skip_blank(self, also: str = "") -> None:
        while self.at < self.end:
            char = self.text[self.at]
            if char == "#":
                self._to_line_end()
            elif char in " \t\r\n" or char in also:
                self._move()
            else:
                return

    def _to_line_end(self) -> None:
        stop = self.text.find("\n", self.at)
        self._move((self.end if stop < 0 else stop) - self.at)

    def _header(self) -> Path:
        many = self.text.startswith("[[", self.at)
        self._move(2 if many else 1)
        steps = self._keys("]")
        path: Path = ()
        for depth, step in enumerate(steps):
            path += (step,)
            self._note(path)
            last = depth == len(steps) - 1
            if last and many:
                self.rows[path] = self.rows.get(path, -1) + 1
            if path in self.rows:
                path += (self.rows[path],)
        self._note(path)
        return path

    def _keys(self, stop: str) -> list[str]:
        keys: list[str] = []
        while self.at < self.end:
            char = self.text[self.at]
            if char == stop or char == "\n":
                return keys
            if char in " \t.":
                self._move()
            elif char in "\"'":
                keys.append(self._string())
            else:
                start = self.at
                while self.at < self.end and self.text[self.at] not in f" \t\r\n.{stop}":
                    self.at += 1
                if self.at == start:
                    return keys
                keys.append(self.text[start : self.at])
        return keys

    def _string(self) -> str:
        quote = self.text[self.at]
        if self.text.startswith(quote * 3, self.at):
            return self._long_string(quote * 3)
        start = self.at = self.at + 1
        while self.at < self.end and self.text[self.at] not in (quote, "\n"):
            self.at += 2 if quote == '"' and self.text[self.at] == "\\" else 1
        inside = self.text[start : self.at]
        self.at += 1
        return inside

    def _long_string(self, quotes: str) -> str:
        self._move(3)
        start = self.at
        while self.at < self.end and not self.text.startswith(quotes, self.at):
            self._move(2 if quotes[0] == '"' and self.text[self.at] == "\\" else 1)
        inside = self.text[start : self.at]
        self._move(3)
        while self.at < self.end and self.text[self.at] == quotes[0]:
            self.at += 1
        return inside

    def _pair(self, here: Path, *, depth: int) -> None:
        line = self.line
        keys = self._keys("=")
        path = here
        for key in keys:
            path += (key,)
            self.found.setdefault(path, line)
        if self.at < self.end and self.text[self.at] == "=":
            self._move()
        self._skip_spaces()
        self._value(path, depth=depth)

    def _skip_spaces(self) -> None:
        while self.at < self.end and self.text[self.at] in " \t":
            self.at += 1

    def _value(self, path: Path, *, depth: int) -> None:
        if self.at >= self.end:
            return
        char = self.text[self.at]
        if char in "\"'":
            self._string()
        elif char in "[{":
            if depth >= _DEEPEST:
                self._skip_brackets()
            else:
                self._inside(path, table=char == "{", depth=depth + 1)
        else:
            while self.at < self.end and self.text[self.at] not in ",]}#\n":
                self.at += 1

    def _inside(self, path: Path, *, table: bool, depth: int) -> None:
        closing = "}" if table else "]"
        self._move()
        index = 0
        while True:
            self._skip_blank(also=",")
            if self.at >= self.end:
                return
            if self.text[self.at] == closing:
                self._move()
                return
            before = self.at
            if table:
                self._pair(path, depth=depth)
            else:
                self._note((*path, index))
                self._value((*path, index), depth=depth)
                index += 1
            if self.at == before:
                self._move()

    def _skip_brackets(self) -> None:
        open_brackets = 0
        while self.at < self.end:
            char = self.text[self.at]
            if char in "\"'":
                self._string()
                continue
            if char == "#":
                self._to_line_end()
                continue
            open_brackets += (char in "[{") - (char in "]}")
            self._move()
            if open_brackets == 0:
                return
