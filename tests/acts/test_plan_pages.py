"""The read models of doing, on a real reckoning: they show what the record says now, and load nothing heavy.

Expected rows are hand-worked from the examples and from what the tests write.
"""

from __future__ import annotations

import datetime as dt
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from tests.acts.kept import SENT, machine, thistle
from tests.acts.reckoning import FEW, place_with, settled
from wreckwright.acts import plan_pages
from wreckwright.acts.checks import trade_data
from wreckwright.acts.doing import cover, done, start
from wreckwright.acts.edit_job import JobForm, change_job
from wreckwright.acts.hands import HandsForm, change_hands, take_turn
from wreckwright.acts.loose_ends import leave
from wreckwright.acts.place import Place, memory
from wreckwright.acts.plan_now import NOT_BOUGHT
from wreckwright.acts.plan_pages import card_page, hands_page, order_page, tonight_all, tonight_page
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.writes import undo_change
from wreckwright.errors import EntryError, NotThere
from wreckwright.record.evidence import CLOSED_STATES

TRADE = trade_data()


@pytest.fixture(scope="module")
def reckoned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Place, str, str, Reckoner]]:
    """Sorrel, reckoned once for all tests here, and Magpie, a lot. Each test takes back what it writes."""
    place, (sorrel, magpie) = place_with(tmp_path_factory.mktemp("pages"), "sorrel", "magpie")
    with Reckoner(place, n_futures=FEW) as reckoner:
        reckoner.want(sorrel)
        assert settled(reckoner, sorrel).state == "fresh"
        yield place, sorrel, magpie, reckoner


@pytest.fixture
def kept(reckoned: tuple[Place, str, str, Reckoner]) -> Iterator[tuple[Place, str, str, Reckoner]]:
    place = reckoned[0]
    with memory(place).reading() as reader:
        before = len(reader.changes(limit=1000))
    yield reckoned
    with memory(place).reading() as reader:
        lines = reader.changes(limit=1000)
    for line in lines[: len(lines) - before]:
        undo_change(place, line.id, SENT)


def page(place: Place, make: Callable[..., Any], *more: Any, **over: Any) -> Any:
    with memory(place).reading() as reader:
        made = make(reader, *more, **over)
    assert msgspec.json.decode(msgspec.json.encode(made), type=type(made)) == made
    return made


def fitting(place: Place, uid: str, reckoner: Reckoner) -> str:
    """A fitting that is on tonight's long list, with steps of its own."""
    made = page(place, tonight_page, TRADE, reckoner, uid, hours=24.0)
    cards = reckoner.look(uid).answers
    assert cards is not None
    many = {card.key for card in cards.cards if len(card.siblings) > 2 and card.kind == "job"}
    return next(str(work.key) for work in made.evening.works if work.key in many and ":" not in work.key)


def test_tonight_is_made_for_the_hours_there_are(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    made = page(place, tonight_page, TRADE, reckoner, sorrel, hours=2.0)
    assert made.head.nickname == "Sorrel" and made.standing.state == "fresh" and made.standing.why == ""
    assert made.tonight is not None and made.tonight.hours == 2.0 and made.tonight.entries
    assert page(place, tonight_page, TRADE, reckoner, sorrel, hours=0.0).tonight.entries == ()
    for hours in (-1.0, 24.5, float("nan")):
        with memory(place).reading() as reader, pytest.raises(EntryError) as caught:
            tonight_page(reader, TRADE, reckoner, sorrel, hours=hours)
        assert caught.value.field == "hours"


def test_a_moment_after_a_tap_the_list_is_another(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    key = fitting(place, sorrel, reckoner)
    start(place, sorrel, key, SENT)
    end = leave(place, sorrel, "loose", "axle nut", key, 1, (), SENT).handle
    later = SENT.at + dt.timedelta(minutes=20)
    made = page(place, tonight_page, TRADE, reckoner, sorrel, hours=24.0, now=lambda: later)
    assert [(one.key, one.minutes) for one in made.running] == [(key, 20)]
    name = next(job.name for job in machine(place, sorrel).jobs if job.stands_for == key)
    assert [(one.handle, one.work, one.work_name) for one in made.loose] == [(end, key, name)]
    assert [one.handle for one in made.tonight.first] == [end]
    assert made.standing.stale
    done(place, sorrel, key, None, SENT)
    made = page(place, tonight_page, TRADE, reckoner, sorrel, hours=24.0)
    assert key not in [one.key for one in made.evening.works] and made.running == ()
    assert made.standing.why == ""


def test_a_lot_has_no_evening_and_says_why(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, _, magpie, reckoner = kept
    made = page(place, tonight_page, TRADE, reckoner, magpie, hours=2.0)
    assert (made.tonight, made.evening, made.standing.why) == (None, None, NOT_BOUGHT)
    order = page(place, order_page, TRADE, reckoner, magpie)
    assert order.order is None and order.standing.why == NOT_BOUGHT
    assert [one.nickname for one in page(place, tonight_all, TRADE, reckoner, hours=2.0).machines] == ["Sorrel"]


def test_what_one_leaves_of_the_evening_goes_to_the_next(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    made = page(place, tonight_all, TRADE, reckoner, hours=3.0)
    (one,) = made.machines
    assert (one.uid, one.turn, one.hours) == (sorrel, 1, 3.0) and one.tonight.hours == 3.0
    with memory(place).reading() as reader, pytest.raises(EntryError):
        tonight_all(reader, TRADE, reckoner, hours=30.0)


def test_the_hours_are_shared_by_turn(tmp_path: Path, kept: tuple[Place, str, str, Reckoner]) -> None:
    _, sorrel, _, reckoner = kept
    answers = reckoner.look(sorrel).answers
    assert answers is not None

    class Same:
        """Two machines with the same evening."""

        def look_at(self, uid: str, known: object) -> Any:
            from wreckwright.acts.reckon_shapes import Reckoned

            return Reckoned(state="fresh", answers=answers)

    place, first = thistle(tmp_path)
    from tests.acts.at_the_bench import BURDOCK, second

    other = second(place, tmp_path, BURDOCK)
    take_turn(place, other, 1, SENT)
    made = page(place, tonight_all, TRADE, Same(), hours=6.0)
    assert [(one.uid, one.turn) for one in made.machines] == [(other, 1), (first, 2)]
    one, two = made.machines
    assert one.hours == 6.0 and two.hours == pytest.approx(one.tonight.spare_minutes / 60, abs=0.01)
    assert two.tonight.hours <= one.tonight.spare_minutes / 60 + 1e-9


def test_the_running_order_with_the_rows_its_forms_need(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    from wreckwright.acts.batches import BatchForm, note_batch
    from wreckwright.acts.errands import ErrandForm, errand_done, note_errand

    batch = note_batch(place, sorrel, BatchForm(name="paint", components=("front_mudguard",), price="80"), SENT).handle
    call = note_errand(place, sorrel, ErrandForm(words="the bank"), SENT).handle
    trip = note_errand(place, sorrel, ErrandForm(kind="trip", words="town", wants=("rolls",)), SENT).handle
    errand_done(place, sorrel, call, "yes", SENT)
    made = page(place, order_page, TRADE, reckoner, sorrel)
    assert made.order is not None and made.order.stretches
    assert [(one.handle, one.done) for one in made.errands] == [(trip, False), (call, True)]
    assert made.errands[0].wants == ("it rolls",)
    (row,) = [one for one in made.batches if one.handle == batch]
    assert (row.component_names, row.price, row.state_words) == (("front mudguard",), "80", "being gathered")
    assert made.heat_cycles == 0 and made.machine_rev >= 1 and made.components and made.questions
    assert all(choice.value in {one.id for one in machine(place, sorrel).parts} for choice in made.parts)


def test_a_card_says_what_may_be_done_with_it(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    key = fitting(place, sorrel, reckoner)
    made = page(place, card_page, TRADE, reckoner, sorrel, key)
    assert made.card is not None and made.card.key == key and (made.handle, made.rev, made.gone) == ("", 0, "")
    assert made.can == ("start", "done", "snag", "leave", "edit") and not made.done
    assert made.kind == "job" and "took_longer" in [one.value for one in made.snags]
    told = start(place, sorrel, key, SENT)
    change_job(place, sorrel, key, 1, JobForm(tools="a long lever"), SENT)
    made = page(place, card_page, TRADE, reckoner, sorrel, key, now=lambda: SENT.at + dt.timedelta(minutes=7))
    assert (made.handle, made.rev, made.typed.tools, made.running.minutes) == (told.handle, 2, "a long lever", 7)
    assert made.can[0] == "stop" and made.card.handle == told.handle
    done(place, sorrel, key, 50, SENT)
    made = page(place, card_page, TRADE, reckoner, sorrel, key)
    assert made.done and made.can == ("edit", "snag", "leave") and made.card.done_minutes == 50
    assert (key, True) in [(one, finished) for one, _, finished in made.card.siblings]


def test_cards_of_questions_looks_and_covers(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, reckoner = kept
    answers = reckoner.look(sorrel).answers
    assert answers is not None
    kinds = {card.kind: card.key for card in answers.cards}
    gate = page(place, card_page, TRADE, reckoner, sorrel, kinds["gate"])
    assert gate.can == ("answer", "snag") and [one.value for one in gate.snags] == ["gate_failed"]
    look = page(place, card_page, TRADE, reckoner, sorrel, kinds["look"])
    assert look.can == ("look", "snag") and look.kind == "look"
    off = page(place, card_page, TRADE, reckoner, sorrel, "off:seat_off")
    assert off.can == ("cover_off", "snag") and off.card is None and off.gone
    cover(place, sorrel, "seat_off", True, SENT)
    assert page(place, card_page, TRADE, reckoner, sorrel, "off:seat_off").can == ("cover_on", "snag")
    with memory(place).reading() as reader, pytest.raises(NotThere):
        card_page(reader, TRADE, reckoner, sorrel, "wheelbarrow")
    with memory(place).reading() as reader, pytest.raises(NotThere):
        card_page(reader, TRADE, reckoner, "nobody", "seat")


def test_every_card_can_be_opened_and_every_job_begun(kept: tuple[Place, str, str, Reckoner]) -> None:
    """Law: whatever the plan makes, the acts understand."""
    place, sorrel, _, reckoner = kept
    answers = reckoner.look(sorrel).answers
    assert answers is not None and answers.running_order is not None
    shown = {entry.key for stretch in answers.running_order.stretches for entry in stretch.entries}
    for key in sorted(shown | {card.key for card in answers.cards}):
        made = page(place, card_page, TRADE, reckoner, sorrel, key)
        if "start" in made.can:
            assert start(place, sorrel, key, SENT).change_id is not None
    assert sum(job.state == "open" for job in machine(place, sorrel).jobs) > 5


def test_the_hands_with_their_days(kept: tuple[Place, str, str, Reckoner]) -> None:
    place, sorrel, _, _ = kept
    told = HandsForm(days_off="2026-11-25", changed=(("2026-11-26", "15"),), helper_weekdays=("saturday",))
    change_hands(place, told, {}, SENT)
    made = page(place, hands_page, today=lambda: dt.date(2026, 11, 24))
    assert [(one.uid, one.turn, one.same) for one in made.machines] == [(sorrel, 1, True)]
    days = {one.date: one for one in made.days}
    assert len(days) == 21 and made.days[0].today and made.days[0].weekday == "Tuesday"
    assert days["2026-11-25"].off and days["2026-11-26"].changed == "15"
    assert days["2026-11-28"].helper and not days["2026-11-27"].helper
    assert made.base_revs == {sorrel: made.machines[0].calendar_rev}
    # What is shown, sent back, changes nothing.
    typed = made.typed
    form = HandsForm(
        week=typed.week, days_off=typed.days_off, helper_weekdays=typed.helper_weekdays, helper_days=typed.helper_days,
        changed=tuple((one.date, one.changed) for one in made.days))
    assert change_hands(place, form, made.base_revs, SENT).change_id is None


def test_without_a_week_of_its_own_the_usual_one_is_shown(tmp_path: Path) -> None:
    place, _ = thistle(tmp_path)
    made = page(place, hands_page, today=lambda: dt.date(2026, 11, 23))
    # Two evenings of two hours and a day of five (common practice, as in the record's defaults).
    assert sorted(one.usual for one in made.days[:7]) == [0, 0, 0, 0, 120, 120, 300] and made.typed.week == ("",) * 7


def test_before_anything_is_reckoned(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    with Reckoner(place, n_futures=FEW) as reckoner:
        made = page(place, tonight_page, TRADE, reckoner, uid, hours=2.0)
        assert made.tonight is None and made.standing.why == "It has not been planned yet."
        card = page(place, card_page, TRADE, reckoner, uid, "job:j1")
        assert card.card is None and card.gone == "Its card has not been made yet." and card.can[0] == "start"
    assert machine(place, uid).jobs[0].state not in CLOSED_STATES


def test_no_numeric_library_is_loaded_for_these_pages() -> None:
    code = f"import sys, {plan_pages.__name__}; print([name for name in ('numpy', 'scipy') if name in sys.modules])"
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert said.strip() == "[]"
