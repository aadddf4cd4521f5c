"""The fit-to-ride list: only hands and readings prove."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from wreckwright.answers.fit import SUSPECT_OVER, fit
from wreckwright.answers.types import FitEntry, FitList
from wreckwright.record.file import read_record
from wreckwright.record.types import ChosenRemedy, Finding, Job, Machine, PartLine, Proof, Reading
from wreckwright.trade.load import load_trade
from wreckwright.trade.types import Band, Component, FitItem, MachineClass, Trade

AS_OF = dt.date(2025, 3, 1)


def component(name: str, heading: str) -> Component:
    return Component(
        basis="test", id=name, name_uk=name, name_us=name, zone="somewhere", side="middle", ride="stop", run="none",
        looks_0_3=0, hidden=True, seen_from="", look_minutes=5.0, look_how="", bad_looks_like="", practice="",
        used_ok="ok", pattern_ok="ok", repairable=True, price_step=3, usual_remedy="genuine", lead_class="x",
        fit_minutes=30.0, wear_chance=Band(0.01, 0.02, 0.03), fit_to_ride=heading,
    )


def trade() -> Trade:
    headings = {"frame": ("frame_head", "frame_spars"), "brakes": ("brake_disc_f", "brake_hose_f"),
                "wheels": ("wheel_rim_f",), "chain": ("chain",), "horn": ()}
    empty: Any = {}
    return Trade(
        components={c: component(c, item) for item, components in headings.items() for c in components},
        causes=empty, cause_links=(), knock_ons=(), latents=(), signs=empty, told=(), checks=empty, covers=empty,
        carry_overs=empty, renew_withs=empty, lead_classes=empty, supply_shares=(), price_steps=empty, job_times=empty,
        brand_discounts=empty, fee_steps=(), money=empty, cautions=empty, legal=empty, gates=empty,
        fit_items={item: FitItem(basis="test", id=item, name=f"The {item}", how_proved=f"look at the {item}")
                   for item in headings},
        classes={"shaft": MachineClass(basis="test", id="shaft", name="Shaft-drive tourer", synonyms=("shafty",),
                                       absent_components=("chain",), default_sound_value_hours=Band(1, 2, 3))},
        stations=empty, sources=empty,
    )


def listed(damage: dict[str, float] | None = None, **over: Any) -> FitList:
    machine = Machine(**{"nickname": "Sorrel", "machine_class": "tourer", "year": 2019, **over})
    return fit(machine, trade(), damage=damage or {}, as_of=AS_OF)


def entry(item: str, damage: dict[str, float] | None = None, **over: Any) -> FitEntry:
    return next(e for e in listed(damage, **over).items if e.item == item)


def proof(item: str, **over: Any) -> Proof:
    return Proof(**{"id": f"p-{item}", "item": item, "how": "stand, straight edge, both locks", **over})


def disc(**over: Any) -> Reading:
    return Reading(**{"id": "r1", "what": "thickness", "component": "brake_disc_f", "value": 4.6, "unit": "mm",
                      "uncertainty": 0.05, "limit_low": 4.5, "proves": "brakes", **over})


def test_silence_proves_nothing() -> None:
    found = listed()
    assert [(e.item, e.state) for e in found.items] == [
        (item, "not proved") for item in ("frame", "brakes", "wheels", "chain", "horn")]
    assert not found.all_proved
    assert found.shut == ("road test", "handover")
    assert "0 of 5 headings are proved" in found.why
    assert "road test and handover stay shut until all are proved" in found.why


@given(st.floats(0.0, 1.0))
@settings(max_examples=50)
def test_no_chance_ever_proves_a_heading(p: float) -> None:
    found = entry("wheels", {"wheel_rim_f": p})
    assert found.state == ("not touched but suspected" if p > SUSPECT_OVER else "not proved")


def test_a_proof_by_hand_proves_by_id_or_by_name_and_names_the_second_pair_of_eyes() -> None:
    found = entry("wheels", {"wheel_rim_f": 0.9}, proofs=(proof("the Wheels", second_person="Wynn"),))
    assert (found.state, found.second_person, found.proof) == ("proved", "Wynn", "stand, straight edge, both locks")
    # It is still said what speaks against it.
    assert found.suspected[0].words == "about 9 in 10, trade judgement"
    whole = listed(proofs=(proof("wheels"), proof("brakes", second_person="Wynn")))
    assert whole.without_second_person == ("The wheels",)
    assert whole.notes[-1] == "No second pair of eyes is named for: The wheels."


def test_a_proof_that_does_not_say_how_is_none() -> None:
    assert entry("wheels", proofs=(proof("wheels", how="  "),)).state == "not proved"


def test_all_proved_opens_the_road_test() -> None:
    found = listed(proofs=tuple(proof(item) for item in ("frame", "brakes", "wheels", "chain", "horn")))
    assert found.all_proved and found.shut == ()
    assert found.why == (
        "All 5 headings have been proved by hand or by reading: this list no longer holds road test and handover shut."
    )


@pytest.mark.parametrize(
    ("over", "state"),
    [  # hand-worked: the whole band of value and uncertainty has to lie within the limits
        ({}, "proved"),
        ({"uncertainty": 0.11}, "not proved"),
        ({"value": 4.4}, "not proved"),
        ({"uncertainty": None}, "proved"),
        ({"limit_low": None}, "not proved"),
        ({"limit_low": None, "limit_high": 4.7}, "proved"),
        ({"limit_high": 4.64}, "not proved"),
        ({"proves": ""}, "not proved"),
    ],
)
def test_a_reading_proves_within_its_limits_only(over: dict[str, Any], state: str) -> None:
    assert entry("brakes", readings=(disc(**over),)).state == state


def test_a_reading_does_not_prove_what_it_did_not_measure() -> None:
    found = entry("brakes", {"brake_hose_f": 0.3}, readings=(disc(),))
    assert found.state == "not proved"
    assert "brake_hose_f" in found.reason
    assert entry("brakes", {"brake_disc_f": 0.3}, readings=(disc(),)).state == "proved"


def test_a_reading_outside_its_limits_outweighs_a_proof_until_it_is_taken_again() -> None:
    bad = disc(value=4.1)
    assert entry("brakes", proofs=(proof("brakes"),), readings=(bad,)).state == "not proved"
    assert entry("brakes", proofs=(proof("brakes"),), readings=(bad, disc(id="r2"))).state == "proved"


@pytest.mark.parametrize(
    "over",
    [
        {"jobs": (Job(id="j", name="straighten the head", component="frame_head"),)},
        {"jobs": (Job(id="j", name="mend it", kind="repair", component="frame_spars"),)},
        {"jobs": (Job(id="j", name="Weld the cracked lug"),)},
        {"remedies": (ChosenRemedy(id="m", component="frame_head", remedy="repair"),)},
        {"findings": (Finding(id="f", component="frame_spars", what="somebody has welded this before"),)},
    ],
)
def test_frame_work_needs_a_specialists_paper(over: dict[str, Any]) -> None:
    without = entry("frame", proofs=(proof("frame"),), **over)
    assert without.needs_specialist_paper and without.state == "not proved"
    assert "specialist's paper" in without.reason
    assert entry("frame", proofs=(proof("frame", specialist_paper="gauge report 114"),), **over).state == "proved"
    assert not entry("frame", proofs=(proof("frame"),)).needs_specialist_paper


def test_a_welded_wheel_needs_paper_too_and_readings_do_not_replace_it() -> None:
    job = (Job(id="j", name="wheel straightened", component="wheel_rim_f"),)
    runout = Reading(
        id="r", what="run-out", component="wheel_rim_f", value=0.3, unit="mm", limit_high=1.0, proves="wheels"
    )
    assert entry("wheels", readings=(runout,)).state == "proved"
    assert entry("wheels", jobs=job, readings=(runout,)).state == "not proved"


def test_found_bad_is_suspected_and_what_was_worked_on_is_no_longer_untouched() -> None:
    unsure = (Finding(id="f", component="wheel_rim_f", condition="dinged", sure=0.6),)
    assert entry("wheels", findings=unsure).suspected[0].words == "about 6 in 10, trade judgement"
    seen = (Finding(id="f", component="wheel_rim_f", condition="dinged", sure=0.8),)
    found = entry("wheels", findings=seen)
    assert (found.state, found.suspected[0].words) == ("not touched but suspected", "found bad")
    assert entry("wheels", findings=(Finding(id="f", component="wheel_rim_f", looked_fine=True),)).state == "not proved"
    fitted = entry("wheels", findings=seen, parts=(PartLine(id="l", component="wheel_rim_f", state="fitted"),))
    assert (fitted.state, fitted.reason) == ("not proved", "It has been worked on and not been proved since.")
    assert fitted.suspected[0].words == "found bad, put right since"


def test_the_sentence_names_the_open_headings_only_where_they_are_few() -> None:
    few = listed(proofs=(proof("wheels"),))
    assert few.why.startswith("1 of 5 headings is proved") and few.why.endswith("The chain; The horn.")
    many = trade()
    many.fit_items.update({f"more{n}": FitItem(basis="test", id=f"more{n}", name=f"More {n}", how_proved="look")
                           for n in range(3)})
    machine = Machine(nickname="Sorrel", machine_class="tourer", year=2019)
    assert fit(machine, many, damage={}, as_of=AS_OF).why.endswith("stay shut until all are proved.")


def test_a_fault_found_after_the_proof_opens_it_again() -> None:
    day = dt.datetime(2025, 2, 1)
    seen = Finding(id="f", component="wheel_rim_f", what="rim dinged", at=day)
    before, after = (proof("wheels", at=day + dt.timedelta(days=d)) for d in (-1, 1))
    assert entry("wheels", findings=(seen,), proofs=(before,)).state == "not proved"
    assert entry("wheels", findings=(seen,), proofs=(after,)).state == "proved"


def test_what_this_class_of_machine_does_not_have_is_not_asked_for() -> None:
    assert "chain" in {e.item for e in listed().items}
    for name in ("shaft", "Shaft-Drive Tourer", "shafty"):
        assert "chain" not in {e.item for e in listed(machine_class=name).items}
    # A heading under which the trade data lists no component is asked for all the same.
    assert "horn" in {e.item for e in listed(machine_class="shaft").items}


def test_json_and_never_the_word_safe() -> None:
    found = listed({"frame_head": 0.5}, proofs=(proof("wheels"),))
    text = msgspec.json.encode(found)
    assert msgspec.json.decode(text, type=FitList) == found
    assert b"safe" not in text.lower()
    assert found.as_of == "2025-03-01"
    assert found.rests_on[0].basis == "judgement"


def test_found_bad_and_not_put_right_outweighs_a_proof_of_unknown_day() -> None:
    # common practice: nothing is proved while a part under it is known to be bad
    seen = Finding(id="f", component="wheel_rim_f", condition="cracked")
    assert entry("wheels", findings=(seen,), proofs=(proof("wheels"),)).state == "not proved"
    fitted = (PartLine(id="l", component="wheel_rim_f", state="fitted"),)
    assert entry("wheels", findings=(seen,), proofs=(proof("wheels"),), parts=fitted).state == "proved"
    mended = (Job(id="j", name="true the rim", component="wheel_rim_f", kind="repair", state="closed_up"),)
    assert entry("wheels", findings=(seen,), proofs=(proof("wheels"),), jobs=mended).state == "proved"
    scratch = Finding(id="f", component="wheel_rim_f", condition="scratched", severity=1)
    assert entry("wheels", findings=(scratch,), proofs=(proof("wheels"),)).state == "proved"


def test_a_finding_in_plain_words_counts_like_one_by_component() -> None:
    text = b'nickname = "S"\nmachine_class = "naked"\nyear = 2019\nfindings = ["front rim cracked"]\n' + (
        b'[[proofs]]\nitem = "wheels"\nhow = "spun on the stand"\n'
    )
    found = fit(read_record(text), load_trade(), damage={}, as_of=AS_OF)
    wheels = next(e for e in found.items if e.item == "wheels")
    assert wheels.state == "not proved"
    assert ("front_wheel", "found bad") in {(s.component, s.words) for s in wheels.suspected}


def test_a_reading_outside_its_limits_speaks_against_a_heading_it_was_not_taken_for() -> None:
    # hand-worked: 4.3 mm lies under the limit of 4.5 mm
    thin = disc(value=4.3, proves="")
    assert entry("brakes", proofs=(proof("brakes"),), readings=(thin,)).state == "not proved"
    assert entry("brakes", readings=(disc(proves=""),)).state == "not proved"
    again = disc(id="r2", proves="")
    assert entry("brakes", proofs=(proof("brakes"),), readings=(thin, again)).state == "proved"
