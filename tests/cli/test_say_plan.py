"""The words for work: why first, keys beside the work they name, nothing wider than a terminal."""

from __future__ import annotations

from typing import Any

import msgspec
import pytest

from tests.papers.made_up_plan import running_order
from wreckwright.acts.plan_shapes import RemedyOffer
from wreckwright.answers.plan_types import (
    CardCover,
    CardLimit,
    CardPart,
    CardTorque,
    EveningLoose,
    JobCard,
    Minutes3,
    OrderEntry,
    Tonight,
    TonightEntry,
)
from wreckwright.cli.say_plan import card_lines, entry_lines, offer_lines, order_lines, tonight_lines

LONG = "so " * 90
ENTRY = OrderEntry(
    key="pump:try_on", name="try on the pump", kind="job", minutes=20.0, from_date="2026-12-01", to_date="2026-12-03",
    by_p80="", waits_for="the pump (2026-11-30)",
)
FIRST = TonightEntry(
    key="pump", name="fit the pump", kind="job", minutes=40.0, fits_chance=0.9, in_part=False, first_off=("Seat off",),
    minutes_covers=5.0, why="it is next", caution="coolant is poison", film="the hoses",
)
TONIGHT = Tonight(
    nickname="Sorrel", as_of="2026-11-20", why="one piece of work.", rests_on=(), hours=2.0,
    first=(EveningLoose(handle="loose1", what="rags", words="inlet ports", count=2),), entries=(FIRST,),
    left_open=("Seat off",), nothing="", spare_minutes=30.0,
)
CARD = JobCard(
    key="pump", name="fit the pump", kind="job", component="water_pump", minutes=Minutes3(low=30, likely=40, high=60),
    done_minutes=10.0, state="open", began_at="", handle="j1", why="It comes before the first start",
    cautions=("it is hot",), supports=("paddock stand",), tools=("hexagon 6", "rag"), look_first=("oil level",),
    helper=True,
    off=(CardCover(id="seat_off", name="Seat off", minutes=1, off_already=True, notes=("strap",), caution="key"),),
    steps=("clean the face",), parts=(CardPart(handle="p1", name="pump", state="here", last_return="2026-12-09"),),
    keep=("impeller",), renew=("gasket",), while_open=(("look:hose", "look at the hose"),), bags=("Bag: 4 screws",),
    back_on=(CardCover(id="seat_off", name="Seat on", minutes=2, off_already=True, notes=()),),
    torques=(CardTorque(where="cover", nm=10.0, words="10 Nm", basis="estimate"),),
    limits=(CardLimit(what="play", words="none"),), film=("the hoses",), may_split=False, cure_days=1,
    siblings=(("pump:try_on", "try on the pump", True), ("pump", "fit the pump", False)), basis="judgement",
)


def one_line(lines: list[str]) -> str:
    return " ".join(" ".join(lines).split())


@pytest.mark.parametrize("long", [False, True])
def test_no_line_is_wider_than_a_terminal(long: bool) -> None:
    more: dict[str, Any] = {"why": LONG} if long else {}
    word = LONG if long else "short"
    lines = [
        *order_lines(msgspec.structs.replace(running_order("N" * 60 if long else "Sorrel"), **more)),
        *tonight_lines(msgspec.structs.replace(TONIGHT, nothing=word, **more)),
        *card_lines(msgspec.structs.replace(CARD, steps=(word,), cautions=(word,), **more)),
        *entry_lines(msgspec.structs.replace(ENTRY, name=word, waits_for=word)),
    ]
    assert max(map(len, lines)) <= 80


def test_an_entry_says_when_what_its_key_and_what_it_waits_for() -> None:
    assert entry_lines(ENTRY) == [
        "  2026-12-01 to 2026-12-03  Try on the pump (20 min)",
        "              pump:try_on; waits for the pump (30 November 2026)",
    ]
    back = msgspec.structs.replace(
        ENTRY, key="on:seat_off", name="Seat off", kind="on", waits_for="", to_date="2026-12-01"
    )
    assert entry_lines(back)[0] == "  2026-12-01  Back on: Seat (20 min)"


def test_a_running_order_that_cannot_be_kept_says_so_before_its_dates() -> None:
    said = one_line(order_lines(running_order(broken=("the pump is fitted on 2026-12-01, before it is here",))))
    assert said.index("cannot be kept") < said.index("1 December 2026") < said.index("Finished")
    good = one_line(order_lines(running_order()))
    assert "cannot be kept" not in good and "What is waited for" in good


def test_every_key_of_the_order_is_shown() -> None:
    order = running_order()
    said = one_line(order_lines(order))
    for stretch in order.stretches:
        assert stretch.question in said
        for entry in stretch.entries:
            assert entry.key in said


def test_tonight_begins_with_what_is_loose_and_says_each_work_with_its_key_and_caution() -> None:
    lines = tonight_lines(TONIGHT)
    assert lines[0] == "Sorrel: tonight, 2.0 h as of 2026-11-20"
    assert lines[lines.index("First of all") + 1] == "  - Rags in a port: inlet ports (loose1)"
    at = lines.index("1. Fit the pump (40 min)")
    assert lines[at + 1 : at + 6] == [
        "   pump", "   First: Seat off (5 min)", "   It is next.", "   ! Coolant is poison",
        "   Film it: the hoses"]
    assert "30 min to spare." in lines
    only = msgspec.structs.replace(FIRST, in_part=True, if_yes=True)
    said = one_line(tonight_lines(msgspec.structs.replace(TONIGHT, entries=(only,))))
    assert "1. If the answer is yes: Fit the pump (40 min, only begun)" in said


def test_an_empty_evening_says_why() -> None:
    empty = msgspec.structs.replace(TONIGHT, entries=(), first=(), left_open=(), nothing="all waits until 2026-12-04")
    said = one_line(tonight_lines(empty))
    assert "All waits until 4 December 2026." in said and "to spare" not in said


def test_a_card_has_its_five_heads_in_order() -> None:
    lines = card_lines(CARD)
    heads = ["Before you touch", "Off", "While it is open", "Back on", "Prove it", "The steps of it"]
    assert [line for line in lines if line in heads] == heads
    said = one_line(lines)
    assert "Open; 40 min, 30 min to 1 h; 10 min done" in said
    for words in ("! it is hot", "look first: oil level", "it takes two", "Tools: hexagon 6, rag",
                  "Seat off (1 min, off already)", "! key", "clean the face", "Carry over: impeller", "Renew: gasket",
                  "look at the hose (look:hose)",
                  "pump: here; can go back until 9 December 2026", "Bag: 4 screws", "cover: 10 Nm (estimate)",
                  "play: none", "then leave it for 1 day", "try on the pump (pump:try_on), done",
                  "fit the pump (pump), this one"):
        assert words in said


def test_offers_are_listed_with_the_command_that_takes_the_usual_one() -> None:
    offers = tuple(
        RemedyOffer(component="pump", component_name="Pump", remedy=remedy, words="Buy it", price=price, wait=wait,
                    usual=usual, chosen=usual)
        for remedy, price, wait, usual in (("used", "about EUR 80", "usually 6 days", True), ("leave", "", "", False))
    )  # type: ignore[arg-type]
    assert offer_lines(offers, "My Sorrel") == [
        "", "What can be done about it: Pump", "  - used: buy it (about EUR 80, usually 6 days); usual, chosen now",
        "  - leave: buy it", "  $ wreckwright remedy 'My Sorrel' pump used",
    ]
    assert offer_lines((), "Sorrel") == []
