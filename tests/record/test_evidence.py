"""What findings, readings, proofs and answers come to, as likelihoods (hand-worked from the rows of the trade data)."""

from __future__ import annotations

from pathlib import Path

import pytest

from wreckwright.record.evidence import PHOTOGRAPH_SHARE, Evidence, chance_inside, gather
from wreckwright.record.file import read_record
from wreckwright.record.types import Reading
from wreckwright.trade.load import load_trade

TRADE = load_trade()
HEAD = 'nickname = "Sorrel"\nmachine_class = "tourer"\nyear = 2019\n'


def gathered(text: str) -> Evidence:
    return gather(read_record((HEAD + text).encode()), TRADE)


def ratio(evidence: Evidence, component: str) -> float:
    """Likelihood if bad over likelihood if sound."""
    sound, bad = evidence.likelihoods[component]
    return bad / sound


def sensitivity(check: str, component: str) -> tuple[float, float]:
    return next((one.sensitivity, one.false_alarm) for one in TRADE.checks[check].detects if one.component == component)


def test_silence_is_no_evidence() -> None:
    evidence = gathered("")
    assert evidence == Evidence()


def test_a_sure_finding_is_work_and_evidence() -> None:
    evidence = gathered('findings = ["front rim dinged"]')
    (bad,) = evidence.bad
    assert (bad.component, bad.severity, bad.missing, bad.sure, bad.handle) == ("front_wheel", 2, False, 0.95, "f1")
    assert bad.condition == "front rim dinged"
    # hand-worked: 0.95 to 0.05
    assert ratio(evidence, "front_wheel") == pytest.approx(19.0)


def test_a_suspicion_is_evidence_only() -> None:
    evidence = gathered('[[findings]]\ncomponent = "fork_tube_l"\nsure = 0.6\n')
    assert evidence.bad == ()
    # hand-worked: 0.6 to 0.4
    assert ratio(evidence, "fork_tube_l") == pytest.approx(1.5)


def test_a_finding_by_a_check_is_worth_what_the_check_is_worth() -> None:
    evidence = gathered('[[findings]]\ncomponent = "fork_tube_l"\ncheck = "tube_runout"\n')
    hit, false_alarm = sensitivity("tube_runout", "fork_tube_l")
    assert ratio(evidence, "fork_tube_l") == pytest.approx(hit / false_alarm)


def test_several_pieces_multiply_and_are_one_entry_of_work() -> None:
    evidence = gathered('findings = ["front rim dinged", { id = "b", what = "front wheel cracked", sure = 0.8 }]')
    # hand-worked: 19 x 4
    assert ratio(evidence, "front_wheel") == pytest.approx(76.0)
    (bad,) = evidence.bad
    assert (bad.severity, bad.handle, bad.condition) == (3, "f1", "front rim dinged; front wheel cracked")


def test_no_amount_of_certainty_makes_a_likelihood_nought() -> None:
    evidence = gathered("findings = [" + '{ what = "front rim dinged", sure = 1.0 },' * 40 + "]")
    sound, bad = evidence.likelihoods["front_wheel"]
    assert bad == 1.0 and 0.0 < sound < 1e-6


def test_a_severity_of_ones_own_goes_before_the_words() -> None:
    evidence = gathered(
        'findings = ["tank dented", { what = "rack bent", severity = 3 }, { component = "seat", condition = "torn" }]'
    )
    assert [bad.severity for bad in evidence.bad] == [1, 3, 2]


def test_looked_fine_on_a_side_is_what_a_walk_round_shows_of_that_side() -> None:
    evidence = gathered('findings = ["left mirror gone", { side = "left", looked_fine = true }]')
    expected = {
        component.id
        for component in TRADE.components.values()
        if component.side == "left" and not component.hidden and component.seen_from == "walk_round"
    } - {"mirror_l"}
    assert evidence.fine == expected
    assert "fork_tube_l" not in evidence.likelihoods and "alternator" not in evidence.likelihoods
    hit, false_alarm = sensitivity("walk_round", "fairing_l")
    assert ratio(evidence, "fairing_l") == pytest.approx((1 - hit) / (1 - false_alarm))
    # The mirror stays bad.
    assert ratio(evidence, "mirror_l") == pytest.approx(19.0)


def test_looked_fine_on_a_zone_or_a_station() -> None:
    zone = gathered('[[findings]]\nzone = "lighting"\nlooked_fine = true\n')
    assert zone.fine and all(TRADE.components[name].zone == "lighting" for name in zone.fine)
    assert not any(TRADE.components[name].hidden for name in zone.fine)
    station = gathered('[[findings]]\nzone = "tail_on"\nlooked_fine = true\n')
    assert station.fine <= set(TRADE.stations["tail_on"].components) and "tail_lamp" in station.fine


def test_photographs_show_less() -> None:
    walked = gathered('[[findings]]\nside = "left"\nlooked_fine = true\n')
    seen = gathered('seen_in = "photographs"\n[[findings]]\nside = "left"\nlooked_fine = true\n')
    # A sound one looks sound as often as before, a bad one is missed more often.
    assert ratio(seen, "peg_l") > ratio(walked, "peg_l")
    hit, false_alarm = sensitivity("walk_round", "fairing_l")
    assert ratio(seen, "fairing_l") == pytest.approx((1 - PHOTOGRAPH_SHARE * hit) / (1 - false_alarm))
    assert [guess.field for guess in seen.guesses] == ["seen_in"]


def test_one_part_looked_at_by_a_check() -> None:
    evidence = gathered('[[findings]]\ncomponent = "fork_tube_r"\ncheck = "straight_edge_fork"\nlooked_fine = true\n')
    hit, false_alarm = sensitivity("straight_edge_fork", "fork_tube_r")
    assert ratio(evidence, "fork_tube_r") == pytest.approx((1 - hit) / (1 - false_alarm))
    assert evidence.fine == {"fork_tube_r"}


def test_words_that_say_fine_are_a_look() -> None:
    evidence = gathered('findings = ["front wheel is fine"]')
    assert evidence.fine == {"front_wheel"} and evidence.bad == () and ratio(evidence, "front_wheel") < 1.0


@pytest.mark.parametrize(
    ("rows", "put_right"),
    [
        ('[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n', True),
        ('[[parts]]\ncomponent = "radiator"\nstate = "here"\n', False),
        ('[[jobs]]\nname = "solder it"\nkind = "repair"\ncomponent = "radiator"\nstate = "proved"\n', True),
        ('[[jobs]]\nname = "look at it"\nkind = "check"\ncomponent = "radiator"\nstate = "proved"\n', False),
        (
            '[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n'
            '[[parts]]\ncomponent = "radiator"\nstate = "ordered"\n',
            False,
        ),
        (
            '[[parts]]\ncomponent = "radiator"\nstate = "refunded"\n'
            '[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n',
            True,
        ),
        (
            '[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n'
            '[[jobs]]\nname = "fit"\ncomponent = "radiator"\nstate = "open"\n',
            False,
        ),
        # Of the steps only the main one puts it right, or keeps it open.
        ('[[jobs]]\nname = "fit"\nstands_for = "radiator"\nstate = "closed_up"\n', True),
        (
            '[[jobs]]\nname = "over"\ncomponent = "radiator"\nstands_for = "radiator:carry_over"\nstate = "proved"\n',
            False,
        ),
        (
            '[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n'
            '[[jobs]]\nname = "test"\ncomponent = "radiator"\nstands_for = "radiator:test"\nstate = "open"\n',
            True,
        ),
        (
            '[[parts]]\ncomponent = "radiator"\nstate = "fitted"\n'
            '[[jobs]]\nname = "fit"\nstands_for = "radiator"\nstate = "open"\n',
            False,
        ),
    ],
)
def test_put_right(rows: str, put_right: bool) -> None:
    evidence = gathered('findings = ["radiator holed"]\n' + rows)
    assert (evidence.put_right == {"radiator"}) == put_right
    assert bool(evidence.bad) != put_right
    # What was found still speaks for what happened.
    assert ratio(evidence, "radiator") == pytest.approx(19.0)


def test_a_reading_with_likelihoods_is_passed_on() -> None:
    evidence = gathered(
        '[[readings]]\nwhat = "x"\ncomponent = "frame_head"\nvalue = 1\nunit = "deg"\nif_sound = 0.2\nif_bad = 0.7\n'
    )
    assert ratio(evidence, "frame_head") == pytest.approx(3.5)


def test_a_reading_against_limits() -> None:
    row = '[[readings]]\nid = "r"\nwhat = "run-out"\ncomponent = "front_wheel"\nunit = "mm"\nlimit_high = 1.0\n'
    inside = gathered(row + "value = 0.5\nuncertainty = 0.1\n")
    # hand-worked: five standard deviations inside: 0.10 to 0.95
    assert ratio(inside, "front_wheel") == pytest.approx(0.10 / 0.95, rel=1e-5)
    assert inside.fine == {"front_wheel"} and inside.bad == ()
    outside = gathered(row + "value = 1.8\nuncertainty = 0.1\n")
    assert ratio(outside, "front_wheel") == pytest.approx(0.90 / 0.05, rel=1e-5)
    assert [(bad.component, bad.handle) for bad in outside.bad] == [("front_wheel", "r")]
    # On the limit it says little, and decides nothing: (0.5 x 0.1 + 0.5 x 0.9) / (0.5 x 0.95 + 0.5 x 0.05) = 1
    on_it = gathered(row + "value = 1.0\nuncertainty = 0.1\n")
    assert ratio(on_it, "front_wheel") == pytest.approx(1.0)
    assert on_it.bad == () and on_it.fine == frozenset()
    # Without limits a reading is only written down.
    assert gathered('[[readings]]\nwhat = "x"\ncomponent = "seat"\nvalue = 1\nunit = "mm"\n') == Evidence()


def test_conformity_probability() -> None:
    # published (normal distribution function, any table): one standard deviation inside one limit, 0.8413; two limits
    # two standard deviations either side, 0.9545.
    one = Reading(id="r", what="x", value=9.0, unit="mm", uncertainty=1.0, limit_high=10.0)
    assert chance_inside(one) == pytest.approx(0.8413, abs=5e-5)
    two = Reading(id="r", what="x", value=9.0, unit="mm", uncertainty=0.5, limit_low=8.0, limit_high=10.0)
    assert chance_inside(two) == pytest.approx(0.9545, abs=5e-5)
    assert chance_inside(Reading(id="r", what="x", value=10.5, unit="mm", limit_high=10.0)) == 0.0
    assert chance_inside(Reading(id="r", what="x", value=10.5, unit="mm")) is None


def test_a_proof_speaks_for_all_of_its_heading_but_what_was_found_bad() -> None:
    evidence = gathered('findings = ["left fork tube bent"]\n[[proofs]]\nitem = "forks"\nhow = "measured"\n')
    heading = {component.id for component in TRADE.components.values() if component.fit_to_ride == "forks"}
    assert evidence.fine == heading - {"fork_tube_l"}
    assert ratio(evidence, "fork_tube_l") == pytest.approx(19.0)


def test_a_gate_answered_yes_speaks_for_what_would_have_failed_it() -> None:
    evidence = gathered('[[gates]]\ntemplate = "straight"\nanswer = "yes"\n')
    assert set(evidence.likelihoods) == set(TRADE.gates["straight"].fails_with)
    assert all(ratio(evidence, name) == pytest.approx(0.10 / 0.95) for name in evidence.likelihoods)
    assert gathered('[[gates]]\ntemplate = "straight"\n') == Evidence()


def test_turning_over_is_worth_a_quick_look() -> None:
    yes = gathered('turns_over = "yes"\n')
    hit, false_alarm = sensitivity("turn_rear_wheel", "top_end")
    assert ratio(yes, "top_end") == pytest.approx((1 - hit) / (1 - false_alarm))
    no = gathered('turns_over = "no"\n')
    # hand-worked: a no has another reason in 1 of 10 cases.
    assert ratio(no, "top_end") == pytest.approx((hit + (1 - hit) * 0.1) / 0.1)
    assert gathered('turns_over = "unknown"\n') == Evidence()


def test_a_key_that_starts_it_speaks_for_lock_chip_and_starter() -> None:
    yes = gathered('key_starts_it = "yes"\n')
    assert all(ratio(yes, name) < 1.0 for name in ("lock_set", "ignition_lock", "immobiliser", "starter_circuit"))
    no = gathered('key_starts_it = "no"\n')
    assert all(1.0 < ratio(no, name) < 3.0 for name in ("lock_set", "ignition_lock", "immobiliser", "starter_circuit"))


def test_what_was_assumed_about_words_is_named() -> None:
    evidence = gathered('what_hit = "right"\nfindings = ["mirror gone", "indicator broken"]\n')
    assert [bad.component for bad in evidence.bad] == ["mirror_r", "indicator_fr"]
    assert [guess.field for guess in evidence.guesses] == ["findings.f1.component", "findings.f2.component"]
    assert "right side, as that side was hit" in evidence.guesses[0].value


def test_golden_record_is_gathered_without_guessing_words() -> None:
    golden = (Path(__file__).parent / "golden" / "format-1.toml").read_bytes()
    evidence = gather(read_record(golden), TRADE)
    assert [bad.component for bad in evidence.bad] == ["mirror_l", "front_wheel"] and evidence.guesses == ()


def test_a_scratch_speaks_less_for_damage_than_a_break() -> None:
    scratched = gathered('findings = ["right fairing scratched"]')
    broken = gathered('findings = ["right fairing broken"]')
    # hand-worked: a mark that is only looks weighs 3 to 1, a finding as sure as usual 19 to 1
    assert ratio(scratched, "fairing_r") == pytest.approx(3.0)
    assert ratio(broken, "fairing_r") == pytest.approx(19.0)
    assert scratched.bad[0].severity == 1


def test_a_part_that_shows_and_was_looked_at_by_name_is_hardly_missed() -> None:
    component = "lever_brake_front"
    assert TRADE.components[component].seen_from == "walk_round"
    assert not any(one.component == component for one in TRADE.checks["walk_round"].detects)
    # hand-worked: one bad lever in ten is overlooked, 19 sound ones in 20 are called sound
    assert ratio(gathered('findings = ["front brake lever fine"]'), component) == pytest.approx(0.1 / 0.95)


def test_a_yes_written_as_a_gate_and_as_a_quick_question_counts_once() -> None:
    head = b'nickname = "S"\nmachine_class = "naked"\nyear = 2019\n'
    gate = b'[[gates]]\ntemplate = "turns"\nanswer = "yes"\n'
    once = gather(read_record(head + gate), load_trade()).likelihoods
    both = gather(read_record(head + b'turns_over = "yes"\n' + gate), load_trade()).likelihoods
    assert both == once


def test_a_gate_answered_no_speaks_against_what_is_behind_it() -> None:
    no = gathered('[[gates]]\ntemplate = "straight"\nanswer = "no"\n')
    # hand-worked: 0.95 to 0.3 for each of the components behind the question
    for component in TRADE.gates["straight"].fails_with:
        assert ratio(no, component) == pytest.approx(0.95 / 0.3)
    assert no.put_right == frozenset()


def test_a_way_round_puts_right_what_was_behind_the_gate_and_still_tells_what_happened() -> None:
    round_it = gathered('[[gates]]\ntemplate = "straight"\nanswer = "way_round"\n')
    assert round_it.put_right == set(TRADE.gates["straight"].fails_with)
    assert ratio(round_it, "frame_head") == pytest.approx(0.95 / 0.3)


def test_what_broke_in_ones_hands_is_work_and_no_trace_of_a_fall() -> None:
    evidence = gathered('[[findings]]\ncomponent = "peg_r"\ncondition = "snapped"\nat_work = "peg_r:strip"')
    assert [one.component for one in evidence.bad] == ["peg_r"] and "peg_r" not in evidence.likelihoods
    found = gathered('[[findings]]\ncomponent = "peg_r"\ncondition = "snapped"')
    assert found.bad == evidence.bad and ratio(found, "peg_r") > 1.0


def test_a_broken_piece_does_not_make_its_component_bad() -> None:
    evidence = gathered('[[findings]]\ncomponent = "front_wheel"\npiece = "sensor ring"')
    assert evidence == Evidence()
    both = gathered('findings = ["front rim dinged", { component = "front_wheel", piece = "sensor ring" }]')
    assert both == gathered('findings = ["front rim dinged"]')
