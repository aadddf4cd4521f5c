"""Knock-ons on top of links: together they must say what was first judged, not more."""

from __future__ import annotations

import csv
import re
from importlib import resources

import pytest
from msgspec.structs import replace

from wreckwright.futures.damage import Evidence, posterior
from wreckwright.futures.damage_network import build_network
from wreckwright.trade.types import Trade


def first_judged(table: str, figure: str, key: tuple[str, ...]) -> dict[tuple[str, ...], float]:
    """Middle chances before they were lowered to make room for knock-ons, as the rows' basis tells."""
    text = (resources.files("wreckwright.trade") / "data" / f"{table}.csv").read_text(encoding="utf-8")
    found = {}
    for row in csv.DictReader(text.splitlines()):
        said = re.search(r"lowered from ([\d.]+), the rest comes through its knock-ons", row["basis"])
        found[tuple(row[name] for name in key)] = float(said[1]) if said else float(row[f"{figure}_mid"])
    return found


def only(trade: Trade, cause: str) -> Trade:
    """The map when just `cause` has happened, at its middle severity."""
    causes = {
        name: replace(
            row,
            chance=replace(row.chance, low=0.0, mid=1.0 - 1e-6 if name == cause else 0.0, high=1.0),
            severities=(replace(next(s for s in row.severities if s.logodds_shift == 0.0), weight=1.0),),
            may_combine_with=(),
        )
        for name, row in trade.causes.items()
    }
    return replace(trade, causes=causes)


@pytest.mark.parametrize(
    "cause", ["standstill_drop_left", "lowside_right", "frontal_impact", "theft_recovery", "long_storage"]
)
def test_expected_parts_stay_near_what_was_first_judged(trade: Trade, cause: str) -> None:
    # hand-worked goal: a part's chance is 1 - (1 - link)(1 - wear) of the figures first judged; knock-ons left as they
    # stood would add a sixth to a third. Allowed is one twentieth.
    links = first_judged("cause_links", "chance", ("cause", "component"))
    wear = first_judged("components", "wear_chance", ("id",))
    chance = posterior(build_network(only(trade, cause)), Evidence()).chance
    network = judged = 0.0
    for name, row in trade.components.items():
        if row.zone != "papers":
            share = trade.price_steps[row.price_step].new_share_of_sound_value.mid
            network += share * chance[name]
            judged += share * (1 - (1 - links.get((cause, name), 0.0)) * (1 - wear[name,]))
    assert network == pytest.approx(judged, rel=0.05)


def test_a_bent_frame_head_is_as_likely_as_was_meant(trade: Trade) -> None:
    # regression: 0.25 after a frontal hit, first judged with its wear of 0.01 as 1 - 0.75 * 0.99.
    chance = posterior(build_network(only(trade, "frontal_impact")), Evidence()).chance["frame_head"]
    assert chance == pytest.approx(1 - 0.75 * 0.99, abs=0.02)


def test_one_bent_tube_makes_the_other_likelier_than_before(trade: Trade) -> None:
    network = build_network(trade)
    before = posterior(network, Evidence()).chance["fork_tube_r"]
    after = posterior(network, Evidence(likelihoods={"fork_tube_l": (0.0, 1.0)})).chance["fork_tube_r"]
    sound = posterior(network, Evidence(likelihoods={"fork_tube_l": (1.0, 0.0)})).chance["fork_tube_r"]
    assert sound < before < 0.75 < after
