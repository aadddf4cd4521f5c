"""Two writers of one row: what goes together, what does not."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.store.merge import Clash, merge
from wreckwright.store.rows import same

VALUES = st.sampled_from([0, 1, 1.0, True, "a", ["a"], ["a", 1], {"x": 1}])
ROWS = st.dictionaries(st.sampled_from("abcd"), VALUES)
WANTED = st.dictionaries(st.sampled_from("abcde"), st.one_of(st.none(), VALUES))


# hand-worked, field by field: base, now, wanted -> what it becomes ("-" stands for absent)
@pytest.mark.parametrize(
    ("base", "now", "wanted", "becomes"),
    [
        ({"a": 1}, {"a": 1}, {"a": 2}, {"a": 2}),
        ({"a": 1}, {"a": 1}, {"a": None}, {}),
        ({}, {}, {"a": 2}, {"a": 2}),
        ({}, {}, {"a": None}, {}),
        ({"a": 1}, {"a": 2}, {"a": 2}, {"a": 2}),
        ({"a": 1}, {"a": 2}, {}, {"a": 2}),
        ({"a": 1}, {}, {"a": None}, {}),
        ({"a": 1, "b": 1}, {"a": 1, "b": 2}, {"a": 3}, {"a": 3, "b": 2}),
        ({"a": 1, "b": 1}, {"a": 1}, {"a": 3}, {"a": 3}),
        ({"a": [1]}, {"a": (1,)}, {"a": [2]}, {"a": [2]}),
        (None, {"a": 1}, {"a": 1.0}, {"a": 1}),
    ],
)
def test_what_goes_together(
    base: dict[str, Any] | None, now: dict[str, Any], wanted: dict[str, Any], becomes: dict[str, Any]
) -> None:
    merged = merge(base, now, wanted)
    assert (merged.fields, merged.conflicts) == (becomes, ())


@pytest.mark.parametrize(
    ("base", "now", "wanted", "clash"),
    [
        ({"a": 1}, {"a": 2}, {"a": 3}, ("a", 1, 2, 3)),
        ({"a": 1}, {"a": 2}, {"a": 1}, ("a", 1, 2, 1)),
        ({"a": 1}, {}, {"a": 3}, ("a", 1, None, 3)),
        ({"a": 1}, {"a": 2}, {"a": None}, ("a", 1, 2, None)),
        ({}, {"a": 2}, {"a": 3}, ("a", None, 2, 3)),
        ({}, {"a": 0}, {"a": False}, ("a", None, 0, False)),
        (None, {"a": 1}, {"a": 2}, ("a", None, 1, 2)),
        (None, {}, {"a": 2}, ("a", None, None, 2)),
    ],
)
def test_what_does_not(
    base: dict[str, Any] | None, now: dict[str, Any], wanted: dict[str, Any], clash: tuple[Any, ...]
) -> None:
    field, was, is_now, value = clash
    merged = merge(base, now, wanted)
    assert merged.conflicts == (Clash(field=field, base=was, now=is_now, wanted=value),)
    assert merged.fields == now


@given(ROWS, ROWS, WANTED)
def test_laws(base: dict[str, Any], now: dict[str, Any], wanted: dict[str, Any]) -> None:
    before = [dict(base), dict(now), dict(wanted)]
    merged = merge(base, now, wanted)
    assert [base, now, wanted] == before, "an argument was changed"
    clashing = {clash.field for clash in merged.conflicts}
    assert None not in merged.fields.values()
    for name in now.keys() | wanted.keys():
        is_now, becomes = now.get(name), merged.fields.get(name)
        if name not in wanted:
            assert becomes is is_now, "a field nobody named was changed"
        elif name in clashing:
            assert becomes is is_now, "a field in conflict was changed"
            assert not same(is_now, wanted[name]) and not same(is_now, base.get(name))
        else:
            assert same(becomes, wanted[name]), "a wish without conflict was not granted"
            assert same(becomes, is_now) or same(is_now, base.get(name)), "something was silently written over"


@given(ROWS, WANTED)
def test_nobody_else_means_no_conflict(now: dict[str, Any], wanted: dict[str, Any]) -> None:
    assert merge(now, now, wanted).conflicts == ()


@given(ROWS, ROWS, WANTED)
def test_what_has_been_granted_once_changes_nothing_the_second_time(
    base: dict[str, Any], now: dict[str, Any], wanted: dict[str, Any]
) -> None:
    first = merge(base, now, wanted)
    if not first.conflicts:
        assert merge(base, first.fields, wanted) == first
        assert merge(None, first.fields, wanted) == first
