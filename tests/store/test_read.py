"""Looking: handles, photographs, the journal, one state to the end."""

from __future__ import annotations

import datetime as dt

from tests.store.stores import (
    FINDINGS,
    NOON,
    everything,
    key,
    made,
    obeys_rules,
    put,
    take_in,
    write,
)
from wreckwright.store.engine import Store
from wreckwright.store.settle import settle
from wreckwright.store.types import Draft, Remove, RowKey


def test_handles_are_never_given_out_twice(store: Store) -> None:
    take_in(store, made(findings=[*FINDINGS, {"id": "f07", "what": "x"}, {"id": "f" + "9" * 12, "what": "y"}]))
    with store.reading() as reader:
        assert reader.next_handle("m1", "findings") == "f8"
        assert reader.next_handle("m1", "findings", besides=["f8", "p44"]) == "f9"
        assert reader.next_handle("m1", "purse") == "purse1"
        assert reader.next_handle("m9", "taps") == "tap1"
    write(store, put("f8", "parts", 0, name="a part that is called like a finding"))
    write(store, Remove(key=key("f8", "parts"), base_rev=1))
    with store.reading() as reader:
        assert reader.next_handle("m1", "findings") == "f9"
        assert reader.next_handle("m1", "parts") == "p1"


def test_all_photographs_that_any_row_names_or_named(store: Store) -> None:
    one, two, three, four = (digit * 64 for digit in "1234")
    take_in(
        store,
        made(
            findings=[{"id": "f1", "what": "x", "photos": [one]}],
            taps=[{"id": "tap1", "what": "bag", "photos": [two, three]}],
            log=[{"id": "log1", "date": "2026-11-20", "photo_sha256": four}, {"id": "log2", "date": "2026-11-20"}],
        ),
    )
    with store.reading() as reader:
        assert reader.photos() == {one, two, three, four}
    write(store, put("f1", "findings", 1, photos=None), Remove(key=key("tap1", "taps"), base_rev=1))
    with store.reading() as reader:
        assert reader.photos() == {one, two, three, four}, "an undo would miss them"


def test_the_journal_is_read_newest_first_and_cut_short(store: Store) -> None:
    take_in(store, made())
    for number in range(1, 6):
        # The clocks of two devices differ: the order is that of writing.
        write(
            store,
            put(f"tap{number}", "taps", 0, what="snag"),
            what=f"Tap {number}",
            at=NOON - dt.timedelta(minutes=number),
        )
    with store.reading() as reader:
        assert [line.what for line in reader.changes(limit=2)] == ["Tap 5", "Tap 4"]
        assert [line.what for line in reader.changes("m1")][-1] == "Taken in: Sorrel"
        assert reader.changes("m2") == ()


def test_the_history_of_a_row_is_told_oldest_first(store: Store) -> None:
    first = take_in(store, made(findings=FINDINGS))
    second = write(store, put("f1", "findings", 1, severity=3)).change_id
    with store.reading() as reader:
        history = reader.history(key("f1", "findings"))
        assert [(image.rev, change_id) for image, change_id in history] == [(1, first), (2, second)]
        assert reader.image(key("f1", "findings"), 2) == history[1][0]
        assert reader.image(key("f1", "findings"), 3) is None


def test_a_reader_sees_one_state_however_much_is_written_meanwhile(store: Store) -> None:
    take_in(store, made())
    with store.reading() as reader:
        before = reader.rows("m1")
        write(store, put("tap1", "taps", 0, what="snag"))
        assert reader.rows("m1") == before and len(reader.changes()) == 1
    with store.reading() as reader:
        assert len(reader.rows("m1")) == len(before) + 1


def test_settling_writes_nothing(store: Store) -> None:
    take_in(store, made())
    before = everything(store)
    with store.reading() as reader:
        settled = settle(reader, Draft(what="x", writes=(put("tap1", "taps", 0, what="snag"),)), obeys_rules)
    assert [step.key for step in settled.steps] == [RowKey(machine="m1", kind="taps", handle="tap1")]
    assert everything(store) == before
