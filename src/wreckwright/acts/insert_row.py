"""One row more in the text of a record, every other letter as it was. Text in, text out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import tomli_w

from wreckwright.record.where import toml_lines

_INDENT = "    "


def in_list(text: str, key: str, item: str) -> str | None:
    """TOML `text` with `item` at the end of `key = [ ... ]`; None if there is no such list at the top of the file.

    >>> in_list('a = ["one"]  # so far', "a", '"two"')
    'a = ["one", "two"]  # so far'
    >>> print(in_list('a = [\\n  "one"  # first\\n]\\n', "a", '"two"'), end="")
    a = [
      "one",  # first
      "two",
    ]
    """
    line = toml_lines(text).get((key,))
    if line is None:
        return None
    start = _start_of_line(text, line)
    equals = text.find("=", start)
    opening = text.find("[", equals)
    header = text[start:].lstrip(" \t\ufeff").startswith("[")
    if header or equals < 0 or opening < 0 or text[equals + 1 : opening].strip():
        return None
    found = _scan(text, opening)
    return None if found is None else _inserted(text, opening, found, item)


def as_block(text: str, key: str, row: Mapping[str, Any]) -> str:
    """TOML `text` with a block `[[key]]` at its end.

    >>> print(as_block('year = 2019', "a", {"b": "one", "c": 2}), end="")
    year = 2019
    <BLANKLINE>
    [[a]]
    b = "one"
    c = 2
    """
    end = _line_end(text)
    gap = "" if not text or text.endswith("\n") else end
    return text + gap + end.join(["", f"[[{key}]]", *(f"{name} = {value(one)}" for name, one in row.items()), ""])


def inline(row: Mapping[str, Any]) -> str:
    """
    >>> inline({"b": "one", "c": [2, 3], "d": True})
    '{ b = "one", c = [2, 3], d = true }'
    """
    return "{ " + ", ".join(f"{name} = {value(one)}" for name, one in row.items()) + " }"


def value(one: Any) -> str:
    """A text, number, truth value, date or list of them, as TOML on one line."""
    if isinstance(one, list | tuple):
        return "[" + ", ".join(map(value, one)) + "]"
    return tomli_w.dumps({"_": one}).removeprefix("_ = ").rstrip("\n")


class _Ends(NamedTuple):
    last: int | None
    """Where the last entry ends; None: there is none."""
    comma: int | None
    """Where a comma after it ends."""
    closing: int
    """Where the bracket stands."""


def _scan(text: str, opening: int) -> _Ends | None:
    last = comma = None
    depth = 0
    at = opening + 1
    while at < len(text):
        char = text[at]
        if char == "#":
            at = _or_end(text.find("\n", at), text)
            continue
        if char == "]" and depth == 0:
            return _Ends(last, comma, at)
        after = _after_string(text, at) if char in "\"'" else at + 1
        depth += (char in "[{") - (char in "]}")
        if char == "," and depth == 0:
            comma = after
        elif not char.isspace() and depth == 0:
            last, comma = after, None
        at = after
    return None


def _after_string(text: str, at: int) -> int:
    quote = text[at]
    mark = quote * 3 if text.startswith(quote * 3, at) else quote
    at += len(mark)
    while at < len(text) and not text.startswith(mark, at):
        at += 2 if quote == '"' and text[at] == "\\" else 1
    at += len(mark)
    # Up to two more quotes may belong to the end of a long text.
    while len(mark) == 3 and text.startswith(quote, at):
        at += 1
    return at


def _inserted(text: str, opening: int, found: _Ends, item: str) -> str:
    end_of_rows = found.last or opening + 1
    rest = found.comma or end_of_rows
    comma = "," if found.last and not found.comma else ""
    if "\n" not in text[rest : found.closing]:
        return text[:rest] + comma + (" " if found.last else "") + item + text[rest:]
    closing_line = text.rfind("\n", 0, found.closing) + 1
    before_bracket = text[closing_line : found.closing]
    own_line = not before_bracket.strip()
    at = closing_line if own_line else found.closing
    kept = text[:end_of_rows] + comma + text[end_of_rows:at]
    if not own_line:
        # A comma stands right before the bracket.
        return f"{kept}{item}{text[at:]}"
    indent = _indent_of_line(text, found.last - 1) if found.last else before_bracket + _INDENT
    return f"{kept}{indent}{item},{_line_end(text)}{text[at:]}"


def _indent_of_line(text: str, at: int) -> str:
    start = text.rfind("\n", 0, at) + 1
    line = text[start:at]
    blank = line[: len(line) - len(line.lstrip(" \t"))]
    # A first entry right behind the bracket has no line of its own.
    return blank if blank or not line.strip() else _INDENT


def _start_of_line(text: str, line: int) -> int:
    at = 0
    for _ in range(line - 1):
        at = text.find("\n", at) + 1
    return at


def _line_end(text: str) -> str:
    return "\r\n" if "\r\n" in text else "\n"


def _or_end(at: int, text: str) -> int:
    return len(text) if at < 0 else at
