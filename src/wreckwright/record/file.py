"""One machine, one open file: TOML in, TOML and JSON out and back with equal values. Bytes in, bytes or text out.

The format is described in docs/record-format.md, its JSON schema is docs/record.schema.json.
"""

from __future__ import annotations

import datetime as dt
import json
import re
import tomllib
from collections.abc import Callable, Iterable, Mapping
from typing import Any

import msgspec
import tomli_w

from wreckwright.errors import Problem, RecordError
from wreckwright.record.faults import Fault, as_problem, shown
from wreckwright.record.rules import HANDLE_PREFIX, rule_faults, with_handles
from wreckwright.record.shape import shape_faults
from wreckwright.record.types import Machine
from wreckwright.record.upcast import CURRENT_FORMAT, format_fault, upcast
from wreckwright.record.where import Path, line_of, toml_lines

LARGEST_BYTES = 5_000_000
MOST_PROBLEMS = 100
_MOST_DOTS = 200
_TABLES = ("purchase", "market", "calendar", "owner")


def read_record(data: bytes, *, name: str = "record") -> Machine:
    """The machine described by the bytes of a record file (TOML or JSON, UTF-8).

    A text that begins with `{` is JSON, whatever `name` says; else a `name` ending in `.json` is; the rest is TOML.
    Raises RecordError, which lists all problems found, each with its line or field path.

    >>> text = b'nickname = "Sorrel"\\nmachine_class = "naked"\\nyear = 2019\\nfindings = ["front rim dinged"]'
    >>> machine = read_record(text)
    >>> machine.findings[0].id, machine.findings[0].what
    ('f1', 'front rim dinged')
    """
    raw, lines = parse(data, name=name)
    machine, faults = _build(raw)
    if machine is None:
        raise RecordError(as_problems(faults, raw=raw, lines=lines()), name=name)
    return machine


def parse(data: bytes, *, name: str) -> tuple[dict[str, Any], Callable[[], Mapping[Path, int]]]:
    """The plain record, and a function giving the line of each place in it (TOML only; no lines for JSON).

    Raises RecordError if this is no well-formed TOML or JSON.

    >>> parse(b"year = 2019", name="a.toml")[0]
    {'year': 2019}
    """
    text = _decode(data, name)
    if text.lstrip().startswith("{") or (name.lower().endswith(".json") and text.strip()):
        return _parse_json(text, name), dict
    return _parse_toml(text, name), lambda: toml_lines(text)


def as_problems(faults: Iterable[Fault], *, raw: Any, lines: Mapping[Path, int]) -> list[Problem]:
    """Faults in words, in the order of the lines, the first hundred of them, then how many more there are."""
    listed = sorted(faults, key=lambda fault: line_of(lines, fault.path) or LARGEST_BYTES)
    problems = [as_problem(fault, raw=raw, lines=lines) for fault in listed[:MOST_PROBLEMS]]
    if len(listed) > MOST_PROBLEMS:
        problems.append(
            Problem(
                where="the whole file",
                found=f"at least {len(listed) - MOST_PROBLEMS} more",
                allowed=f"{MOST_PROBLEMS} are listed at a time",
                do="put these right first",
            )
        )
    return problems


def to_toml(machine: Machine) -> str:
    """The record as TOML text; reading it back gives an equal machine.

    >>> print(to_toml(read_record(b'nickname = "Sorrel"\\nmachine_class = "naked"\\nyear = 2019')))
    format = 1
    nickname = "Sorrel"
    machine_class = "naked"
    year = 2019
    <BLANKLINE>
    """
    return tomli_w.dumps(_plain(machine, keep=(dt.date, dt.datetime)))


def to_json(machine: Machine) -> bytes:
    """The record as JSON (UTF-8, indented, dates as ISO text); reading it back gives an equal machine.

    >>> to_json(read_record(b'nickname = "Sorrel"\\nmachine_class = "naked"\\nyear = 2019')).decode().splitlines()[1]
    '  "format": 1,'
    """
    return (json.dumps(_plain(machine, keep=()), ensure_ascii=False, indent=2, allow_nan=False) + "\n").encode()


def _plain(machine: Machine, *, keep: tuple[type, ...]) -> dict[str, Any]:
    built: dict[str, Any] = msgspec.to_builtins(machine, builtin_types=keep)
    plain = {"format": CURRENT_FORMAT} | {
        key: value for key, value in built.items() if not (key in _TABLES and not value)
    }
    extra = plain.pop("extra", None)
    return plain | ({"extra": extra} if extra else {})


def _decode(data: bytes, name: str) -> str:
    def refuse(where: str, found: str, allowed: str, do: str) -> RecordError:
        return RecordError([Problem(where=where, found=found, allowed=allowed, do=do)], name=name)

    if len(data) > LARGEST_BYTES:
        raise refuse(
            "the whole file",
            f"{len(data):,} bytes",
            f"at most {LARGEST_BYTES:,} bytes",
            "keep photographs and clips outside the record; it only names them",
        )
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise refuse("byte 1", "text in UTF-16", "text in UTF-8", "save the file as UTF-8 in the editor")
    zero = data.find(b"\x00")
    if zero >= 0:
        raise refuse(
            f"byte {zero + 1}",
            "a zero byte",
            "text in UTF-8, in which there is none",
            "save it as plain text (UTF-8); this may be a word processor's file, a picture or a damaged copy",
        )
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        start = error.start + (3 if data.startswith(b"\xef\xbb\xbf") else 0)
        line = data.count(b"\n", 0, start) + 1
        raise refuse(
            f"line {line}, byte {start + 1}",
            f"the byte 0x{data[start]:02X}, which is no UTF-8",
            "text in UTF-8",
            "save the file as UTF-8 in the editor",
        ) from None
    if not text.strip():
        raise refuse(
            "the whole file",
            "nothing",
            "at least nickname, machine_class and year",
            'begin with nickname = "...", machine_class = "..." and year = ...',
        )
    return text


def _syntax_error(name: str, kind: str, where: str, found: str) -> RecordError:
    do = {
        "TOML": "look at that line and the one before: texts need quotes, lists commas, fields a line each",
        "JSON": "look at that line and the one before: commas between fields, double quotes, nothing after it",
    }[kind]
    return RecordError([Problem(where=where, found=found, allowed=f"well-formed {kind}", do=do)], name=name)


def _parse_toml(text: str, name: str) -> dict[str, Any]:
    # The reader of the standard library takes quadratic time over names of many dotted parts.
    dots = next((piece for piece in re.split(r"[=\n,{}\[\]]", text) if piece.count(".") > _MOST_DOTS), None)
    if dots is not None:
        line = text.count("\n", 0, text.find(dots)) + 1
        raise _syntax_error(name, "TOML", f"line {line}", f"more than {_MOST_DOTS} dots in one go")
    try:
        return tomllib.loads(text)
    except RecursionError:
        raise _syntax_error(name, "TOML", "the whole file", "lists or tables nested too deeply") from None
    except ValueError as error:
        message = str(error)
        at = re.search(r" \(at line (\d+), column (\d+)\)$", message)
        last = text.rstrip().count("\n") + 1
        where = (
            f"line {at[1]}, column {at[2]}"
            if at
            else f"line {last} (the last)"
            if "end of document" in message
            else "the whole file"
        )
        found = re.sub(r" \(at .*\)$", "", message)
        raise _syntax_error(name, "TOML", where, _printable(found)) from None


def _parse_json(text: str, name: str) -> dict[str, Any]:
    def no_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        table: dict[str, Any] = {}
        for key, value in pairs:
            if key in table:
                raise _syntax_error(name, "JSON", f"the field {shown(key)}", "the same field twice in one table")
            table[key] = value
        return table

    try:
        raw = json.loads(text, object_pairs_hook=no_doubles)
    except RecursionError:
        raise _syntax_error(name, "JSON", "the whole file", "lists or tables nested too deeply") from None
    except json.JSONDecodeError as error:
        raise _syntax_error(name, "JSON", f"line {error.lineno}, column {error.colno}", _printable(error.msg)) from None
    except ValueError as error:
        raise _syntax_error(name, "JSON", "the whole file", _printable(str(error))) from None
    if not isinstance(raw, dict):
        raise RecordError(
            [
                Problem(
                    where="the whole file",
                    found=shown(raw),
                    allowed="one table of fields, in curly brackets",
                    do="one machine a file; write its fields inside { }",
                )
            ],
            name=name,
        )
    return raw


def _printable(message: str) -> str:
    message = message if message.isprintable() else ascii(message)[1:-1]
    return message if len(message) <= 160 else message[:157] + "..."


def _build(raw: dict[str, Any]) -> tuple[Machine | None, list[Fault]]:
    wrong_format = format_fault(raw)
    if wrong_format is not None:
        return None, [wrong_format]
    plain = with_handles(_written_out(upcast(raw)))
    faults = list(shape_faults(plain))
    if faults:
        return None, faults
    plain = _extras_as_text(plain)
    try:
        machine = msgspec.convert(plain, Machine)
    except msgspec.ValidationError as error:
        # shape_faults is meant to be at least as strict; should it ever not be, the user still gets a message.
        return None, [
            Fault(
                path=(),
                found=_printable(str(error)),
                allowed="what docs/record-format.md says",
                do="put that field right",
            )
        ]
    faults = list(rule_faults(machine))
    return (None if faults else machine), faults


def _written_out(plain: dict[str, Any]) -> dict[str, Any]:
    """Short forms in full: a finding or a sign as a bare text, a single hit without a list."""
    out = dict(plain)
    for name, key in (("findings", "what"), ("signs", "sign")):
        if isinstance(out.get(name), list):
            out[name] = [{key: row} if isinstance(row, str) else row for row in out[name]]
    if isinstance(out.get("what_hit"), str):
        out["what_hit"] = [out["what_hit"]]
    return out


def _extras_as_text(plain: dict[str, Any]) -> dict[str, Any]:
    """Dates inside `extra` as ISO text, so that they come back equal from JSON too."""

    def text(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: text(inside) for key, inside in value.items()}
        if isinstance(value, list):
            return [text(inside) for inside in value]
        return value.isoformat() if isinstance(value, dt.date | dt.time) else value

    def row(table: Any) -> Any:
        return table | {"extra": text(table["extra"])} if isinstance(table, dict) and "extra" in table else table

    out: dict[str, Any] = row(plain)
    for key in _TABLES:
        if key in out:
            out[key] = row(out[key])
    for key in HANDLE_PREFIX:
        if key in out:
            out[key] = [row(one) for one in out[key]]
    return out
