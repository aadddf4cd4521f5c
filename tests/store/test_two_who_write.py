"""Two who saw the same row and both write it: what goes together, and what is told of a conflict."""

from __future__ import annotations

from tests.store.stores import (
    FINDINGS,
    TAP,
    count,
    key,
    made,
    put,
    refused,
    row,
    take_in,
    write,
)
from wreckwright.errors import (
    ConflictError,
)
from wreckwright.store.engine import Store
from wreckwright.store.types import Remove


def test_different_fields_of_one_row_go_together(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3))
    write(store, put("f1", "findings", 1, evidence="by hand"))
    assert row(store, "f1", "findings").fields == {
        "id": "f1",
        "what": "front rim dinged",
        "severity": 3,
        "evidence": "by hand",
    }


def test_the_same_field_is_a_conflict_that_says_what_when_and_by_whose_change(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, what="front rim cracked", evidence="lamp"), what="It is a crack")
    write(store, put("f1", "findings", 2, severity=3), what="It can hurt")
    error = refused(
        store,
        ConflictError,
        lambda: write(store, put("f1", "findings", 1, what="front rim fine", evidence="lamp", sure=0.5), operation=TAP),
    )
    (one,) = error.conflicts
    assert (one.kind, one.handle, one.field) == ("findings", "f1", "what")
    assert (one.base, one.now, one.wanted) == ("front rim dinged", "front rim cracked", "front rim fine")
    assert one.since == "It is a crack"
    assert "findings f1" in error.what and "what" in error.what
    assert count(store, "operation") == 0


def test_of_several_later_changes_the_last_one_is_named(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    for rev, severity in enumerate((3, 1, 3), start=1):
        write(store, put("f1", "findings", rev, severity=severity), what=f"Now {severity}, number {rev}")
    write(store, put("f1", "findings", 4, sure=0.5), what="Not so sure")
    error = refused(store, ConflictError, lambda: write(store, put("f1", "findings", 1, severity=1)))
    assert [one.since for one in error.conflicts] == ["Now 3, number 3"]
    error = refused(store, ConflictError, lambda: write(store, Remove(key=key("f1", "findings"), base_rev=2)))
    assert [one.since for one in error.conflicts] == ["Not so sure"]


def test_all_conflicts_of_a_draft_are_listed(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, what="a", severity=3), put("f2", "findings", 1, what="b"))
    error = refused(
        store,
        ConflictError,
        lambda: write(
            store,
            put("f1", "findings", 1, what="c", severity=1),
            put("f2", "findings", 1, what="d"),
        ),
    )
    assert [(one.handle, one.field) for one in error.conflicts] == [("f1", "what"), ("f1", "severity"), ("f2", "what")]


def test_both_wanting_the_same_is_no_conflict(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3))
    assert write(store, put("f1", "findings", 1, severity=3)).change_id is None


def test_a_default_said_by_both_is_no_conflict(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f2", "findings", 1, severity=None))
    assert write(store, put("f2", "findings", 1, severity=2)).change_id is None


def test_changed_there_and_back_is_no_conflict(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3))
    write(store, put("f1", "findings", 2, severity=None))
    write(store, put("f1", "findings", 1, severity=1))
    assert row(store, "f1", "findings").fields["severity"] == 1


def test_a_row_removed_meanwhile_is_a_conflict_over_the_whole_row(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, Remove(key=key("f1", "findings"), base_rev=1), what="Took f1 away")
    error = refused(store, ConflictError, lambda: write(store, put("f1", "findings", 1, severity=3)))
    (one,) = error.conflicts
    assert (one.field, one.now, one.since) == ("", None, "Took f1 away")
    assert one.base == {"id": "f1", "what": "front rim dinged"}


def test_removing_a_row_that_was_changed_meanwhile_is_a_conflict(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, put("f1", "findings", 1, severity=3), what="It can hurt")
    error = refused(store, ConflictError, lambda: write(store, Remove(key=key("f1", "findings"), base_rev=1)))
    (one,) = error.conflicts
    assert (one.field, one.wanted, one.since) == ("", None, "It can hurt")
    assert one.now == {"id": "f1", "what": "front rim dinged", "severity": 3}
    refused(store, ConflictError, lambda: write(store, Remove(key=key("f1", "findings"), base_rev=0)))


def test_a_row_that_both_made_must_be_the_very_same(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    assert write(store, put("f2", "findings", 0, what="steering stop chipped", severity=3)).change_id is None
    error = refused(store, ConflictError, lambda: write(store, put("f2", "findings", 0, what="steering stop chipped")))
    (one,) = error.conflicts
    assert (one.field, one.base, one.now, one.wanted) == ("severity", None, 3, None)
    refused(store, ConflictError, lambda: write(store, put("f1", "findings", 0, what="other")))
    more = put("f1", "findings", 0, what="front rim dinged", side="left")
    refused(store, ConflictError, lambda: write(store, more))


def test_a_revision_from_the_future_is_no_base(store: Store) -> None:
    # A phone whose page was read before an older backup was restored.
    take_in(store, made(findings=FINDINGS))
    error = refused(store, ConflictError, lambda: write(store, put("f1", "findings", 9, severity=3)))
    (one,) = error.conflicts
    assert (one.field, one.base, one.now, one.wanted) == ("severity", None, None, 3)
    assert write(store, put("f1", "findings", 9, what="front rim dinged")).change_id is None
    refused(store, ConflictError, lambda: write(store, Remove(key=key("f1", "findings"), base_rev=9)))


def test_the_revision_of_a_tombstone_is_no_base(store: Store) -> None:
    take_in(store, made(findings=FINDINGS))
    write(store, Remove(key=key("f1", "findings"), base_rev=1))
    write(store, put("f1", "findings", 0, what="again"))
    refused(store, ConflictError, lambda: write(store, put("f1", "findings", 2, severity=3)))
    refused(store, ConflictError, lambda: write(store, put("f1", "findings", 2, severity=None, what="x")))
