"""Whatever bytes come in: a machine or RecordError. Whatever machine comes in: everything filled in, or RecordError."""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.machines import SLOW_TO_MAKE, machines
from wreckwright.errors import RecordError
from wreckwright.record.against_trade import check_against_trade
from wreckwright.record.file import read_record, to_json, to_toml
from wreckwright.record.resolve import resolve
from wreckwright.record.types import Machine
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade

EXAMPLES = [path.read_bytes() for path in sorted((Path(__file__).resolve().parents[2] / "examples").rglob("*.toml"))]
EXAMPLES += [to_json(read_record(data)) for data in EXAMPLES]
TRADE = load_trade()
MIRRORED = mirror_trade(TRADE)
NASTY = [
    b"nan", b"-inf", b"1e999", b"-1", b"0", b"99999999999999999999999", b"1.5", b'""', b"''", b"[]", b"{}", b"[[[[",
    b"}}", b"true", b"null", b'"\\u0000"', b'"\\ud800"', b"2026-02-30", b"9999-12-31", b"0001-01-01T00:00:00Z",
    b"12:30:00", b"\x00", b"\xff\xfe", b"\xef\xbb\xbf", b"\n[[parts]]\n", b"\n[owner]\n", b"\n[extra.a.b]\n", b'"' +
    b"x" * 3000 + b'"', b"a.b.c", b"#", b'"""', b"\r\n", b"\t", "\u0130\u1e9e\u202e".encode(), b'"front wheel"',
    b"format = 7\n", b"id = \"f1\"\n", b'{"what": 3}', b"0x10", b"1_000", b"+1",
]  # fmt: skip


@st.composite
def mutations(draw: st.DrawFn) -> bytes:
    data = draw(st.sampled_from(EXAMPLES))
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(data)))
        kind = draw(st.sampled_from(["cut", "insert", "value", "double", "byte"]))
        if kind == "cut":
            data = data[:at] + data[at + draw(st.integers(1, 60)) :]
        elif kind == "insert":
            data = data[:at] + draw(st.sampled_from(NASTY)) + data[at:]
        elif kind == "byte" and data:
            data = data[: at - 1] + bytes([draw(st.integers(0, 255))]) + data[at:]
        elif kind == "double":
            lines = data.split(b"\n")
            line = draw(st.integers(0, len(lines) - 1))
            data = b"\n".join([*lines[: line + 1], *lines[line : line + draw(st.integers(1, 8))], *lines[line + 1 :]])
        else:
            values = list(re.finditer(rb"(?<=[=:] )[^\n,]+", data))
            if values:
                value = draw(st.sampled_from(values))
                data = data[: value.start()] + draw(st.sampled_from(NASTY)) + data[value.end() :]
    return data


def take_in(data: bytes, name: str) -> Machine | None:
    try:
        return read_record(data, name=name)
    except RecordError as error:
        assert error.problems
        for problem in error.problems:
            assert problem.where and problem.found and problem.allowed and problem.do
            assert str(problem).isprintable(), repr(str(problem))
        assert error.report()
        return None


def fill_in(machine: Machine) -> None:
    trade = MIRRORED if machine.mirrored else TRADE
    problems = check_against_trade(machine, trade)
    try:
        known = resolve(machine, trade, as_of=machine.as_of or dt.date(2026, 11, 20))
    except RecordError as error:
        assert list(error.problems) == problems and problems
        return
    assert not problems
    assert all(0 < sound <= 1 and 0 < bad <= 1 for sound, bad in known.likelihoods.values())
    assert known.sound_value_minor == tuple(sorted(known.sound_value_minor))


@settings(max_examples=300)
@given(st.binary(max_size=400), st.sampled_from(["a.toml", "a.json", "a"]))
def test_random_bytes(data: bytes, name: str) -> None:
    take_in(data, name)


@settings(max_examples=150)
@given(st.text(max_size=300), st.sampled_from(["a.toml", "a.json"]))
def test_random_texts(text: str, name: str) -> None:
    take_in(text.encode("utf-8", "surrogatepass"), name)


@settings(max_examples=300, suppress_health_check=SLOW_TO_MAKE)
@given(mutations(), st.sampled_from(["a.toml", "a.json"]))
def test_mutated_examples(data: bytes, name: str) -> None:
    machine = take_in(data, name)
    if machine is not None:
        assert read_record(to_toml(machine).encode()) == machine
        fill_in(machine)


@settings(max_examples=60, suppress_health_check=SLOW_TO_MAKE)
@given(machines())
def test_any_well_formed_machine_is_filled_in_or_refused(machine: Machine) -> None:
    fill_in(machine)
