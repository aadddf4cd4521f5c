"""Which looks are taken and what comes to light."""

from __future__ import annotations

from tests.futures.made_known import SLID, TRADE, known
from wreckwright.futures.looks import GATE_CHECKS, TELEPHONE, choose_looks, opening_of, seen_when_open
from wreckwright.futures.needs import needs_of

EVEN = {component: 0.1 for component in TRADE.components}
GATES = frozenset({"turns", "straight", "runs", "fit_to_ride"})


def chosen(cause_chance: dict[str, float], *, text: str = SLID, extra: str = "") -> set[str]:
    record = known(text, extra=extra)
    hidden = needs_of(record, TRADE, EVEN).hidden
    return {look.check for look in choose_looks(record, TRADE, hidden, frozenset(), GATES, cause_chance)}


def test_an_opening_holds_everything_that_must_come_off_first() -> None:
    for cover in TRADE.covers:
        opening = opening_of(TRADE, (cover,))
        assert cover in opening
        for other in opening:
            assert set(TRADE.covers[other].under) <= opening


def test_tests_that_end_a_stage_are_no_looks() -> None:
    assert not chosen({}) & GATE_CHECKS


def test_no_power_on_a_flooded_or_burnt_machine() -> None:
    """Published in the trade's flood advice (battery off, no key): nothing that needs power is offered."""
    powered = {check.id for check in TRADE.checks.values() if "water_flood" in check.blocked_over}
    assert {"lights_test", "fan_feed"} <= powered
    assert not chosen({"water_flood": 0.6}) & powered
    assert chosen({}) & powered


def test_the_quick_questions_that_can_sink_it_are_always_among_them() -> None:
    rough = {check.id for check in TRADE.checks.values() if check.rough_for in GATES}
    asked = {check for check in rough if TELEPHONE in TRADE.checks[check].tools}
    assert asked and rough - asked <= chosen({}) | {c for c in rough if TRADE.checks[c].only_after}
    # What stands in the garage is tried, not asked after; a lot is asked after.
    assert not asked & chosen({})
    assert asked <= chosen({}, text=SLID.replace("bought = true", "bought = false"))


def test_a_check_that_was_done_is_not_done_again() -> None:
    done = next(check for check in ("lever_hold", "tyre_date", "lock_to_lock") if check in chosen({}))
    record = known(
        'nickname = "T"\nmachine_class = "tourer"\nyear = 2019\n'
        f'findings = [{{ component = "{TRADE.checks[done].detects[0].component}", looked_fine = true, '
        f'check = "{done}" }}]\n'
    )
    hidden = needs_of(record, TRADE, EVEN).hidden
    assert done not in {look.check for look in choose_looks(record, TRADE, hidden, frozenset(), GATES, {})}


def test_what_lies_bare_is_what_its_covers_say() -> None:
    opening = opening_of(TRADE, ("tank_off",))
    seen = seen_when_open(TRADE, opening, tuple(TRADE.components))
    assert {"fuel_pump", "abs_modulator"} <= set(seen)
    assert "bottom_end" not in seen
    for component in seen:
        covers = TRADE.components[component].covers
        exposed = {c for cover in opening for c in TRADE.covers[cover].exposes}
        assert component in exposed or (covers and opening_of(TRADE, covers) <= opening)
