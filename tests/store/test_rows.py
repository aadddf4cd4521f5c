"""A machine as rows and back; the normal form of bodies."""

from __future__ import annotations

import itertools
import json
import random
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.record.machines import PLAIN, SLOW_TO_MAKE, machines
from tests.store.stores import made, new_store, obeys_rules, put, take_in
from wreckwright.errors import RecordError
from wreckwright.record.file import read_record
from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.types import Machine
from wreckwright.store.rows import (
    KINDS,
    canonical,
    checked_machine_of,
    machine_of,
    nickname_key,
    rows_of,
    same,
    without_defaults,
)
from wreckwright.store.types import SINGLE_KINDS, BareRow

EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").rglob("*.toml"))


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: "/".join(path.parts[-2:]))
def test_an_example_comes_back_equal_from_the_database(path: Path, tmp_path: Path) -> None:
    machine = read_record(path.read_bytes(), name=path.name)
    with new_store(tmp_path / "a.sqlite") as store:
        take_in(store, machine)
        with store.reading() as reader:
            assert reader.machine("m1") == machine
            assert len(reader.rows("m1")) == 5 + sum(len(getattr(machine, kind)) for kind in HANDLE_PREFIX)


def test_any_machine_comes_back_equal_from_the_database(tmp_path: Path) -> None:
    with new_store(tmp_path / "a.sqlite") as store:
        numbers = itertools.count()

        @settings(max_examples=200, suppress_health_check=SLOW_TO_MAKE)
        @given(machines())
        def comes_back(machine: Machine) -> None:
            number = next(numbers)
            kept = msgspec.structs.replace(machine, nickname=f"{number} {machine.nickname}"[:60])
            take_in(store, kept, uid=f"m{number}")
            with store.reading() as reader:
                assert reader.machine(f"m{number}") == kept

        comes_back()
        assert next(numbers) >= 200


@settings(max_examples=100, suppress_health_check=SLOW_TO_MAKE)
@given(machines(), st.randoms(use_true_random=False))
def test_rows_in_any_order_say_the_same_machine(machine: Machine, chance: random.Random) -> None:
    rows = list(rows_of(machine))
    chance.shuffle(rows)
    assert machine_of(rows) == checked_machine_of(rows) == machine


@settings(max_examples=100, suppress_health_check=SLOW_TO_MAKE)
@given(machines())
def test_bodies_are_plain_json_without_nulls_and_defaults(machine: Machine) -> None:
    for row in rows_of(machine):
        assert json.loads(canonical(row.fields)) == row.fields
        assert None not in row.fields.values()
        assert without_defaults(row.kind, row.fields) == row.fields
        assert row.fields.get("id", row.handle) == row.handle


def test_every_part_of_a_record_has_its_kind_of_row() -> None:
    # hand-worked: thirteen lists and five single rows, named as in a record.
    assert len(KINDS) == 21 and set(KINDS) - {"machine"} <= {field.name for field in msgspec.structs.fields(Machine)}
    rows = rows_of(made(extra={"a": 1}, uid="u", format=1))
    assert [row.kind for row in rows] == list(SINGLE_KINDS)
    assert rows[0].fields == {
        "nickname": "Sorrel",
        "machine_class": "tourer",
        "year": 2019,
        "extra": {"a": 1},
        "uid": "u",
    }
    assert [row.fields for row in rows[1:]] == [{}] * 4


def test_rows_of_one_list_stand_by_place_then_handle() -> None:
    rows = [*rows_of(made())] + [
        BareRow(kind="findings", handle=handle, place=place, fields={"what": handle})
        for handle, place in (("c", 1), ("a", 7), ("b", 1), ("d", 0))
    ]
    # hand-worked
    assert [row.id for row in machine_of(rows).findings] == ["d", "b", "c", "a"]


@pytest.mark.parametrize(
    ("fields", "what"),
    [
        ({"what": 5}, "findings row 1 (f1), what: found 5"),
        ({"wat": "rim dinged"}, "the unknown field 'wat'"),
        ({"what": "rim", "severity": 4}, "severity: found 4"),
        ({"what": "rim\x00"}, "U+0000"),
        ({"what": "rim\udc00"}, "U+DC00"),
        ({"what": None}, "null"),
    ],
)
def test_a_wrong_shape_is_refused_in_words(fields: dict[str, Any], what: str) -> None:
    rows = [*rows_of(made()), BareRow(kind="findings", handle="f1", place=0, fields=fields)]
    with pytest.raises(RecordError) as caught:
        checked_machine_of(rows)
    assert what in str(caught.value) and caught.value.allowed and caught.value.do


def test_a_kept_row_that_says_nothing_any_more_is_told_in_words() -> None:
    rows = [*rows_of(made()), BareRow(kind="findings", handle="f1", place=0, fields={"severity": "bad"})]
    with pytest.raises(RecordError, match="findings row 1"):
        machine_of(rows)


@given(PLAIN)
def test_the_same_value_is_the_same_after_its_text(value: Any) -> None:
    assert same(value, json.loads(canonical(value)))
    assert canonical(json.loads(canonical(value))) == canonical(value)


@pytest.mark.parametrize(
    ("one", "other", "expected"),
    [
        (1, 1.0, True),
        ([1, (2,)], (1, [2.0]), True),
        ({"a": 1, "b": 2}, {"b": 2, "a": 1}, True),
        (True, 1, False),
        (False, 0, False),
        (None, 0, False),
        (None, False, False),
        ([True], [1], False),
        ([1], [1, 1], False),
        ({"a": 1}, {"a": 1, "b": 1}, False),
        ({"a": 1}, {"b": 1}, False),
        ("1", 1, False),
        ("ab", ["a", "b"], False),
        ([], {}, False),
    ],
)
def test_sameness(one: Any, other: Any, expected: bool) -> None:
    assert same(one, other) is same(other, one) is expected


def test_canonical_refuses_what_json_cannot_say() -> None:
    with pytest.raises(ValueError):
        canonical({"a": float("nan")})
    with pytest.raises(TypeError):
        canonical({"a": {1}})
    assert canonical({"b": 1, "a": "ü"}) == '{"a":"ü","b":1}'


@pytest.mark.parametrize(
    ("kind", "field", "default"),
    # independent: read off record/types.py
    [
        ("machine", "currency", "EUR"),
        ("machine", "what_hit", []),
        ("machine", "seed", 1),
        ("machine", "format", 1),
        ("machine", "extra", {}),
        ("purchase", "bought", False),
        ("owner", "aim", "sell"),
        ("findings", "severity", 2),
        ("findings", "sure", 0.95),
        ("parts", "price_is_quote", True),
        ("taps", "decided", False),
        ("jobs", "after", []),
    ],
)
def test_a_default_means_absent(kind: str, field: str, default: Any) -> None:
    assert without_defaults(kind, {field: default}) == {field: None}
    assert without_defaults(kind, {field: "other"}) == {field: "other"}


def test_what_has_no_default_stays() -> None:
    assert without_defaults("purchase", {"price_minor": 0, "unheard_of": 1}) == {"price_minor": 0, "unheard_of": 1}
    assert without_defaults("findings", {"id": "f1"}) == {"id": "f1"}


def test_nicknames_are_told_apart_without_capitals_spaces_and_ways_of_writing_an_accent() -> None:
    assert nickname_key(" SORREL\t") == nickname_key("sorrel")
    assert nickname_key("R\u00fcbe") == nickname_key("Ru\u0308be")
    assert nickname_key("Strasse") == nickname_key("Stra\u00dfe")  # common practice: Unicode case folding
    assert nickname_key("Sorrel 2") != nickname_key("Sorrel2")


def test_helpers_of_these_tests_check_for_real() -> None:
    with pytest.raises(RecordError):
        obeys_rules(made(findings=[{"id": "f1"}]))
    assert put("f1", "findings", 0, what="a").fields == {"what": "a"}
