"""The commands of work on a real memory: thin faces over the acts, whose own tests say what is written."""

from __future__ import annotations

import datetime as dt
from typing import Any, get_args

import msgspec
import pytest

from tests.cli.memory import THISTLE, Memory
from wreckwright.acts import ask
from wreckwright.acts.ask import read_machine
from wreckwright.acts.find import find_machine
from wreckwright.acts.place import Place
from wreckwright.acts.snags import SNAGS
from wreckwright.cli.planning import REMEDIES, SNAG_KINDS
from wreckwright.record.types import Machine, RemedyName

BENT = THISTLE.replace('findings = ["tank dented"]  # with a fist', 'findings = ["front brake lever bent"]')
LEVER = "lever_brake_front"
FEW = ("--futures", "200")


@pytest.fixture
def bent(memory: Memory) -> Memory:
    memory.say("load", memory.file("bent.toml", BENT))
    return memory


def kept(memory: Memory) -> Machine:
    place = Place(memory.data)
    return read_machine(place, find_machine("Thistle", place).uid)


def test_kinds_and_remedies_are_those_of_the_acts() -> None:
    assert [kind.replace("-", "_") for kind in SNAG_KINDS] == list(SNAGS)
    assert set(REMEDIES) == set(get_args(RemedyName))


@pytest.fixture
def planned_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The same record is planned once for all commands of a test: it would get the same plan each time."""
    plan, made = ask.ahead_of, dict[Any, Any]()

    def once(opened: ask.Opened, **over: Any) -> Any:
        key = msgspec.json.encode(opened.known.machine)
        if key not in made:
            made[key] = plan(opened, **over)
        return made[key]

    monkeypatch.setattr(ask, "ahead_of", once)


@pytest.mark.usefixtures("planned_once")
def test_plan_tonight_and_card_speak_of_the_same_work(bent: Memory) -> None:
    plan = bent.ask("plan", "Thistle", *FEW)
    keys = {entry["key"] for stretch in plan["stretches"] for entry in stretch["entries"]}
    assert {LEVER, f"{LEVER}:test"} <= keys and plan["broken"] == []
    evening = bent.ask("tonight", "Thistle", "--hours", "5", *FEW)
    assert evening["hours"] == 5.0 and {entry["key"] for entry in evening["entries"]} <= keys
    card = bent.ask("card", "Thistle", LEVER, *FEW)
    assert (card["key"], card["component"]) == (LEVER, LEVER)
    said = bent.refused("card", "Thistle", "lever", *FEW)
    assert LEVER in said and "wreckwright plan" in said
    bent.refused("tonight", "Thistle", "--hours", "5", "--as-of", "1990-01-01", *FEW)


def test_more_than_a_day_is_no_evening(bent: Memory) -> None:
    assert bent.run("tonight", "Thistle", "--hours", "25").exit_code == 2


def test_start_stop_done_and_undo(bent: Memory) -> None:
    assert bent.say("start", "Thistle", LEVER) == "Begun: Fit front brake lever.\n"
    assert bent.say("stop", "Thistle", LEVER, "--minutes", "20") == "Left for later: Fit front brake lever, 20 min.\n"
    assert bent.say("done", "Thistle", LEVER, "--minutes", "15", "--closed-up") == (
        "Done: Fit front brake lever, 15 min.\n")
    (job,) = kept(bent).jobs
    assert (job.state, job.done_minutes, job.stands_for) == ("closed_up", 35.0, LEVER)
    for _ in range(3):
        bent.say("undo", "Thistle")
    assert kept(bent).jobs == ()
    assert "answer it with yes or no" in bent.refused("done", "Thistle", "gate:straight")
    assert "there is no work" in bent.refused("start", "Thistle", "wheelbarrow")


def test_files_are_not_worked_on(bent: Memory) -> None:
    for words in (("start", bent.thistle, LEVER), ("loose", bent.thistle), ("remedy", bent.thistle, LEVER, "used")):
        assert "load it" in bent.refused(*words, code=2)


def test_a_snag_lists_what_can_be_done_and_remedy_chooses(bent: Memory) -> None:
    said = bent.say("snag", "Thistle", f"{LEVER}:carry_over", "snapped", "--piece", "bush", "--note", "seized")
    assert said.startswith("Snapped: bush (Move over to front brake lever")
    assert "What can be done about it: Bush" in said and "- repair: mend it" in said
    assert "genuine: buy a new one of the maker (price not known: ask" in said
    (line,) = kept(bent).parts
    assert f"$ wreckwright remedy Thistle {line.id} genuine" in said
    assert max(len(line) for line in said.splitlines()) <= 80
    assert kept(bent).parts[-1].name == "bush"
    assert bent.say("remedy", "Thistle", LEVER, "used") == "Front brake lever: buy a used one.\n"
    assert kept(bent).remedies[0].remedy == "used"
    assert bent.say("snag", "Thistle", LEVER, "took-longer", "--minutes", "90").startswith("Takes longer: ")
    assert bent.say("snag", "Thistle", "gate:straight", "gate-failed").endswith("? No.\n")
    assert "takes longer" in bent.refused("snag", "Thistle", "gate:straight", "took-longer", "--minutes", "5")
    assert bent.run("snag", "Thistle", LEVER, "exploded").exit_code == 2


def test_loose_ends(bent: Memory) -> None:
    assert bent.say("loose", "Thistle") == "Nothing is left loose.\n"
    bent.say("loose", "Thistle", "left", "axle", "nut", "--at", LEVER)
    bent.say("loose", "Thistle", "--rags", "2", "inlet ports")
    bent.say("loose", "Thistle", "--bag")
    assert bent.say("loose", "Thistle").splitlines() == [
        "loose1  Left loose: left axle nut, at: Fit front brake lever",
        "loose2  Rags in a port (2): inlet ports",
        "loose3  Bag of screws: -",
    ]
    assert [one["handle"] for one in bent.ask("loose", "Thistle")["loose"]] == ["loose1", "loose2", "loose3"]
    assert bent.say("loose", "Thistle", "--seen-to", "axle") == "Seen to: left loose: left axle nut.\n"
    assert len(bent.say("loose", "Thistle").splitlines()) == 2
    assert "loose2" in bent.refused("loose", "Thistle", "--seen-to", "s")
    for words in (("--seen-to", "rags", "and", "more"), ("--bag", "--rags", "2")):
        bent.refused("loose", "Thistle", *words, code=2)


def test_the_hands_of_all_machines(bent: Memory) -> None:
    bent.say("load", bent.file("teasel.toml", BENT.replace("Thistle", "Teasel")))
    assert bent.say(
        "hands", "--week", "90,0,2h,0,0,5h,0", "--off", "2026-12-24 to 2026-12-26", "--evening", "2026-12-01", "30",
        "--helper", "2026-12-05", "--turn", "Teasel", "1",
    ) == "Hands: the week, days off, days with a helper, 2026-12-01 30 min.\nTeasel goes first.\n"
    calendar = kept(bent).calendar
    assert calendar.weekday_minutes == (90, 0, 120, 0, 0, 300, 0) and len(calendar.days_off) == 3
    bent.say("hands", "--on", "2026-12-25", "--evening", "2026-12-01", "usual", "--alone", "2026-12-05")
    calendar = kept(bent).calendar
    assert calendar.days_off == (dt.date(2026, 12, 24), dt.date(2026, 12, 26))
    assert (calendar.changed, calendar.helper_days) == ((), ())
    said = bent.say("hands")
    assert "Week: Monday 90 min, Wednesday 120 min, Saturday 300 min" in said and "1. Teasel" in said
    assert [one["nickname"] for one in bent.ask("hands")["machines"]] == ["Teasel", "Thistle"]
    assert "is not bought" in (bent.say("load", bent.burdock) and bent.refused("hands", "--turn", "Burdock", "1"))
    bent.refused("hands", "--off", "christmas")


def test_without_a_machine_of_ones_own_there_is_nothing_to_plan_the_hands_for(memory: Memory) -> None:
    memory.refused("hands")
    memory.say("load", memory.burdock)
    assert "No machine is bought" in memory.say("hands")
    memory.refused("hands", "--off", "2026-12-24")
