"""Signs written down: seen, not there, not known. Expected rows are hand-worked."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.acts.kept import SENT, journal, machine, row, sending, thistle
from wreckwright.acts.signs import say_sign
from wreckwright.acts.writes import undo_change
from wreckwright.errors import ConflictError, EntryError, NotThere

BARE = 'nickname = "Thistle"\nmachine_class = "naked"\nyear = 2016\n'
SIGN = "fork_ripple_under_clamp"


def test_a_sign_is_seen_then_not_then_nobody_knows(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE)
    told = say_sign(place, uid, SIGN, "seen", 0, SENT)
    assert told.said == journal(place)[0] and told.said.startswith("Sign seen: ")
    (one,) = machine(place, uid).signs
    assert (one.id, one.sign, one.seen, one.at) == (told.handle, SIGN, True, SENT.moment)
    assert say_sign(place, uid, SIGN, "seen", 1, SENT).change_id is None
    say_sign(place, uid, SIGN, "not_there", 1, SENT)
    assert [sign.seen for sign in machine(place, uid).signs] == [False]
    taken = say_sign(place, uid, SIGN, "unknown", row(place, uid, "signs", told.handle)[0], SENT)
    assert machine(place, uid).signs == ()
    assert taken.change_id is not None
    undo_change(place, taken.change_id, SENT)
    assert [sign.seen for sign in machine(place, uid).signs] == [False]


def test_a_sign_written_by_hand_in_words_is_the_same_sign(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE + f'signs = ["{SIGN}"]\n')
    say_sign(place, uid, SIGN, "not_there", 1, SENT)
    assert [(one.id, one.sign, one.seen) for one in machine(place, uid).signs] == [("s1", SIGN, False)]


def test_said_otherwise_meanwhile_is_a_conflict(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE)
    say_sign(place, uid, SIGN, "seen", 0, SENT)
    with pytest.raises(ConflictError):
        say_sign(place, uid, SIGN, "not_there", 0, SENT)
    assert [one.seen for one in machine(place, uid).signs] == [True]


def test_sent_twice_it_counts_once(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, BARE)
    sent = sending("first-sending")
    first = say_sign(place, uid, SIGN, "seen", 0, sent)
    again = say_sign(place, uid, SIGN, "seen", 0, sent)
    assert again.replayed and (again.change_id, again.handle) == (first.change_id, first.handle)
    assert len(machine(place, uid).signs) == 1


@pytest.mark.parametrize(("sign", "seen", "kind"), [(SIGN, "maybe", EntryError), ("tea_leaves", "seen", NotThere)])
def test_what_there_is_not(tmp_path: Path, sign: str, seen: str, kind: type[Exception]) -> None:
    place, uid = thistle(tmp_path, BARE)
    with pytest.raises(kind):
        say_sign(place, uid, sign, seen, 0, SENT)
    assert machine(place, uid).signs == ()
