"""The damage posterior: published values, hand-worked cases, and what it says to evidence and maps it cannot use."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from msgspec.structs import replace

from tests.futures.damage_nets import cause, component, make_trade, sign
from wreckwright.errors import AnswerError, TradeDataError
from wreckwright.futures.damage import (
    ClusterTooLarge,
    Evidence,
    ImpossibleEvidence,
    Posterior,
    build_network,
    posterior,
    solve,
)
from wreckwright.futures.damage_clusters import MOST_IN_A_TABLE
from wreckwright.futures.damage_network import map_figures
from wreckwright.futures.damage_scenarios import ONE_STORY, PAIR_SHARE, list_scenarios, sign_likelihood
from wreckwright.trade.types import Trade

PRINTED = json.loads((Path(__file__).parents[1] / "data" / "noisy_or_and_alarm.json").read_text(encoding="utf-8"))
SURE_BAD, SURE_SOUND = (0.0, 1.0), (1.0, 0.0)


def believe(trade: Trade, **evidence: object) -> Posterior:
    return posterior(build_network(trade), Evidence(**evidence))  # type: ignore[arg-type]


# --- printed values


@pytest.mark.parametrize("row", PRINTED["noisy_or"], ids=lambda row: row["id"])
def test_printed_noisy_or_values_as_knock_ons(row: dict[str, object]) -> None:
    # published (the sources in tests/data/noisy_or_and_alarm.json)
    strength, present, leak = _noisy_or(row["inputs"])
    trade = make_trade(
        components=[component(name, 0.5) for name in strength] + [component("effect", leak)],
        knock_ons={(name, "effect"): p for name, p in strength.items()},
    )
    found = {name: SURE_BAD if name in present else SURE_SOUND for name in strength}
    assert believe(trade, likelihoods=found).chance["effect"] == pytest.approx(row["expected"], abs=row["tolerance"])


@pytest.mark.parametrize(
    "row", [row for row in PRINTED["noisy_or"] if len(row["inputs"].get("causes_present", [])) < 3],
    ids=lambda row: row["id"],
)
def test_printed_noisy_or_values_as_causes(row: dict[str, object]) -> None:
    # published (the sources in tests/data/noisy_or_and_alarm.json)
    strength, present, leak = _noisy_or(row["inputs"])
    trade = make_trade(
        causes=[cause(name, 0.2, partners=[o for o in strength if o != name]) for name in strength],
        components=[component("effect", leak)],
        links={(name, "effect"): p for name, p in strength.items()},
    )
    network = build_network(trade)
    solved = solve(network, Evidence())
    index = [set(scenario.causes) for scenario in network.scenarios].index(set(present))
    assert solved.alone_bad[0, 0, index] == pytest.approx(row["expected"], abs=row["tolerance"])


def _noisy_or(inputs: dict) -> tuple[dict[str, float], list[str], float]:  # type: ignore[type-arg]
    if "inhibition" in inputs:
        return {name: 1.0 - q for name, q in inputs["inhibition"].items()}, inputs["causes_present"], inputs["leak"]
    strength = {f"cause {i}": p for i, p in enumerate(inputs["strength"])}
    return strength, [f"cause {i}" for i, there in enumerate(inputs["present"]) if there], inputs["leak"]


def alarm_trade(*, burglary: float) -> Trade:
    """The printed alarm network: burglary with or without an earthquake as a cause with two severities."""
    alarm = PRINTED["alarm"]
    quake = alarm["earthquake"]
    leak = alarm["alarm"]["neither"]

    def link(chance: float) -> float:
        return 1.0 - (1.0 - chance) / (1.0 - leak)

    def log_odds(p: float) -> float:
        return math.log(p / (1.0 - p))

    middle = link(alarm["alarm"]["burglary"])
    shift = log_odds(link(alarm["alarm"]["burglary and earthquake"])) - log_odds(middle)
    return make_trade(
        causes=[
            cause("burglary", burglary, [(1.0 - quake, 0.0), (quake, shift)]),
            cause("earthquake", (1.0 - burglary) * quake),
        ],
        components=[
            component("alarm", leak), component("john", alarm["john_calls"]["quiet"]),
            component("mary", alarm["mary_calls"]["quiet"]),
        ],
        links={("burglary", "alarm"): middle, ("earthquake", "alarm"): link(alarm["alarm"]["earthquake"])},
        knock_ons={
            ("alarm", who): 1.0 - (1.0 - table["alarm"]) / (1.0 - table["quiet"])
            for who, table in (("john", alarm["john_calls"]), ("mary", alarm["mary_calls"]))
        },
    )


@pytest.mark.parametrize("row", PRINTED["bayes_net"], ids=lambda row: row["id"])
def test_printed_values_of_the_alarm_network(row: dict) -> None:  # type: ignore[type-arg]
    # published (the sources in tests/data/noisy_or_and_alarm.json)
    answers = {
        "P(A|B)": lambda: believe(alarm_trade(burglary=1.0)).chance["alarm"],
        "P(J|B)": lambda: believe(alarm_trade(burglary=1.0)).chance["john"],
        "P(B|J,M)": lambda: believe(
            alarm_trade(burglary=PRINTED["alarm"]["burglary"]), likelihoods={"john": SURE_BAD, "mary": SURE_BAD}
        ).cause_chance["burglary"],
    }
    assert answers[row["inputs"]["query"]]() == pytest.approx(row["expected"], abs=row["tolerance"])


# --- hand-worked


def test_a_cause_gives_a_share_of_its_chance_to_its_pairs() -> None:
    trade = make_trade(
        causes=[
            cause("hit", 0.4, [(3.0, -1.0), (1.0, 1.0)], partners=["slide", "drop"]), cause("slide", 0.3),
            cause("drop", 0.1), cause("flood", 0.1),
        ]
    )
    prior = dict(zip(believe(trade).scenario_names, believe(trade).scenario_chance, strict=True))
    # hand-worked: worn 1 - 0.9; flood has no partner; hit keeps 85 % and gives 15 % of 0.4 to slide and drop as 3 : 1;
    # slide and drop give 15 % of their own to their one partner. Severities 3 : 1.
    assert prior["only_worn"] == pytest.approx(0.1)
    assert prior["flood/level 0"] == pytest.approx(0.1)
    assert prior["hit/level 0"] == pytest.approx(0.85 * 0.4 * 0.75)
    assert prior["slide/level 0"] == pytest.approx(0.85 * 0.3)
    assert prior["hit/level 1 + slide/level 0"] == pytest.approx((0.15 * 0.4 * 0.75 + 0.15 * 0.3) * 0.25)
    assert prior["hit/level 0 + drop/level 0"] == pytest.approx((0.15 * 0.4 * 0.25 + 0.15 * 0.1) * 0.75)
    assert sum(prior.values()) == pytest.approx(1.0)
    assert PAIR_SHARE == 0.15
    # hand-worked: chance that a cause has part in it = alone + its pairs.
    assert believe(trade).cause_chance["slide"] == pytest.approx(0.3 + 0.15 * 0.4 * 0.75)


def test_severity_moves_the_log_odds_and_leaves_0_and_1_alone() -> None:
    trade = make_trade(
        causes=[cause("hit", 1.0, [(1.0, math.log(3.0))])],
        components=[component("lamp"), component("stand"), component("peg")],
        links={("hit", "lamp"): 0.25, ("hit", "stand"): 1.0, ("hit", "peg"): 0.0},
    )
    # hand-worked: odds 1 : 3 times 3 are 1 : 1.
    assert believe(trade).chance == pytest.approx({"lamp": 0.5, "stand": 1.0, "peg": 0.0})


def test_one_sign_alone_counts_with_its_own_chance() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)], signs=[sign("mark", "front", {"hit": 0.8, "only_worn": 0.2}, 0.1)]
    )
    # hand-worked: 0.5 * 0.8 against 0.5 * 0.2; not there: 0.2 against 0.8.
    assert believe(trade, signs_seen=("mark",)).cause_chance["hit"] == pytest.approx(0.8)
    assert believe(trade, signs_absent=("mark",)).cause_chance["hit"] == pytest.approx(0.2)
    assert believe(trade, signs_seen=("mark",)).log_evidence == pytest.approx(math.log(0.5))


def test_two_signs_of_one_story() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)],
        signs=[sign("mark", "front", {"hit": 0.8}, 0.1), sign("ripple", "front", {"hit": 0.6}, 0.05)],
    )

    def ratio(**evidence: tuple[str, ...]) -> float:
        chance = believe(trade, **evidence).cause_chance
        return chance["hit"] / chance["only_worn"]

    # hand-worked with ONE_STORY = 1/2: both seen, half min and half product.
    assert ratio(signs_seen=("mark", "ripple")) == pytest.approx((0.6 + 0.48) / (0.05 + 0.005))
    # hand-worked: mark seen, ripple not there.
    assert ratio(signs_seen=("mark",), signs_absent=("ripple",)) == pytest.approx((0.2 + 0.32) / (0.05 + 0.095))
    # hand-worked: neither there.
    assert ratio(signs_absent=("mark", "ripple")) == pytest.approx((0.2 + 0.08) / (0.9 + 0.855))
    assert ONE_STORY == 0.5


def test_signs_of_different_groups_multiply() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)],
        signs=[sign("mark", "front", {"hit": 0.8}, 0.1), sign("leak", "oil", {"hit": 0.6}, 0.05)],
    )
    chance = believe(trade, signs_seen=("mark", "leak")).cause_chance
    # hand-worked
    assert chance["hit"] / chance["only_worn"] == pytest.approx(0.48 / 0.005)


def test_two_causes_show_a_sign_if_either_does_and_what_is_seen_anyway_counts_once() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.4, partners=["slide"]), cause("slide", 0.4)],
        signs=[
            sign("mark", "front", {"hit": 0.6, "slide": 0.3}, 0.1),
            sign("odd", "x", {"hit": 0.02, "slide": 0.01}, 0.1),
        ],
    )
    scenarios = list_scenarios(trade)
    assert [scenario.causes for scenario in scenarios] == [(), ("hit",), ("slide",), ("hit", "slide")]
    # hand-worked: 1 - 0.4 * 0.7 / 0.9.
    assert sign_likelihood(trade, scenarios, seen=["mark"], absent=[]) == pytest.approx([0.1, 0.6, 0.3, 0.62 / 0.9])
    # hand-worked: never under the larger of the two, even where neither reaches what is seen anyway.
    assert sign_likelihood(trade, scenarios, seen=["odd"], absent=[]) == pytest.approx([0.1, 0.02, 0.01, 0.02])


def test_what_was_told_names_either_of_two_causes() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.4, partners=["slide"]), cause("slide", 0.4)],
        told={
            ("left", "hit"): 0.1, ("left", "slide"): 0.7, ("left", "only_worn"): 0.2,
            ("front", "hit"): 0.6, ("front", "slide"): 0.1, ("front", "only_worn"): 0.1,
        },
    )
    prior = np.array([0.2, 0.85 * 0.4, 0.85 * 0.4, 0.15 * 0.8])
    # hand-worked: one word; then two words by two tellers, each of whom names either of the pair's causes.
    one = prior * [0.2, 0.1, 0.7, 0.4]
    two = one * [0.1, 0.6, 0.1, 0.35]
    assert believe(trade, told=("left",)).scenario_chance == pytest.approx(one / one.sum())
    assert believe(trade, told=("left", "front")).scenario_chance == pytest.approx(two / two.sum())


def test_ratios_move_components_and_leave_scenarios_alone() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)],
        components=[component("head", 0.1), component("lamp", 0.5)],
        links={("hit", "head"): 4.0 / 9.0},
        signs=[
            sign("mark", "front", {"hit": 0.6}, 0.3, {"head": 4.0, "lamp": 2.0}),
            sign("ripple", "front", {"hit": 0.6}, 0.6, {"head": 3.0}),
            sign("line", "frame", {"hit": 0.5}, 0.5, {"head": 2.0}),
            sign("crack", "cast", {"hit": 0.5}, 0.5, {"head": 20.0}),
        ],
    )
    seen = believe(trade, signs_seen=("mark",))
    # hand-worked: scenarios by 0.6 : 0.3. Head 0.5 in a hit and 0.1 else: odds 1 * 4 and 1/9 * 4; lamp odds 1 * 2.
    assert seen.cause_chance["hit"] == pytest.approx(2.0 / 3.0)
    assert seen.chance["head"] == pytest.approx(2.0 / 3.0 * 4.0 / 5.0 + 1.0 / 3.0 * 4.0 / 13.0)
    assert seen.chance["lamp"] == pytest.approx(2.0 / 3.0)
    # hand-worked: within a group the largest ratio only (4), times another group's (2); min and product terms as above.
    hit = 0.5 * (0.6 + 0.36) / (0.5 * (0.6 + 0.36) + 0.5 * (0.3 + 0.18))
    three = believe(trade, signs_seen=("mark", "ripple", "line"))
    assert three.chance["head"] == pytest.approx(hit * 8.0 / 9.0 + (1.0 - hit) * 8.0 / 17.0)
    # hand-worked: 4 * 2 * 20 is capped at 30.
    four = believe(trade, signs_seen=("mark", "ripple", "line", "crack"))
    assert four.chance["head"] == pytest.approx(hit * 30.0 / 31.0 + (1.0 - hit) * 30.0 / 39.0)


def test_a_latent_makes_its_two_children_bad_together() -> None:
    trade = make_trade(
        components=[component("left"), component("right")], latents=["pair"], latent_wear={"pair": 0.2},
        knock_ons={("pair", "left"): 0.9, ("pair", "right"): 0.9},
    )
    # hand-worked: 0.2 * 0.9; given the right one is bad the reason is certain.
    assert believe(trade).chance == pytest.approx({"left": 0.18, "right": 0.18})
    assert believe(trade, likelihoods={"right": SURE_BAD}).chance["left"] == pytest.approx(0.9)


def test_components_the_machine_lacks_are_left_out_with_their_links() -> None:
    trade = make_trade(
        components=[component("fairing", 0.5), component("lamp", 0.1)], knock_ons={("fairing", "lamp"): 0.8},
    )
    bare = posterior(build_network(trade, absent=frozenset({"fairing"})), Evidence())
    # hand-worked
    assert bare.chance == pytest.approx({"lamp": 0.1})
    assert believe(trade).chance["lamp"] == pytest.approx(1.0 - 0.9 * (0.5 + 0.5 * 0.2))


def test_a_shift_in_log_odds_moves_just_that_figure() -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)], components=[component("lamp", 0.2), component("peg", 0.2)],
        links={("hit", "lamp"): 0.5}, knock_ons={("peg", "lamp"): 0.5},
    )
    shift = {"wear:peg": math.log(4.0), "cause:hit": math.log(2.0), "knock_on:peg>lamp": 50.0, "link:hit>lamp": -50.0}
    moved = posterior(build_network(trade, logit_shift=shift), Evidence())
    # hand-worked: 0.2 has odds 1/4; the cause's weight 2/3 stands against the worn machine's unmoved 1/2.
    assert moved.chance["peg"] == pytest.approx(0.5)
    assert moved.cause_chance["hit"] == pytest.approx((2.0 / 3.0) / (2.0 / 3.0 + 0.5))
    assert moved.chance["lamp"] == pytest.approx(1.0 - 0.8 * 0.5)
    assert set(map_figures(trade)) == {*shift, "wear:lamp"}


# --- errors


def test_impossible_findings_are_named() -> None:
    trade = make_trade(
        causes=[cause("hit", 1.0)], components=[component("head"), component("lamp", 0.5)],
        signs=[sign("mark", "front", {"hit": 0.0}, 0.1)],
    )
    with pytest.raises(ImpossibleEvidence, match="impossible by itself: what was found on head"):
        believe(trade, likelihoods={"head": SURE_BAD, "lamp": SURE_BAD})
    with pytest.raises(ImpossibleEvidence, match=r"mark \(seen\)"):
        believe(trade, likelihoods={"lamp": SURE_BAD}, signs_seen=("mark",))


def test_findings_that_contradict_each_other_are_named_together() -> None:
    trade = make_trade(components=[component("head", 0.5), component("stem")], knock_ons={("head", "stem"): 0.5})
    with pytest.raises(ImpossibleEvidence, match="taken together: what was found on head, what was found on stem"):
        believe(trade, likelihoods={"head": SURE_SOUND, "stem": SURE_BAD})


@pytest.mark.parametrize(
    ("evidence", "message"),
    [
        ({"likelihoods": {"hed": (1.0, 2.0)}}, "component 'hed' is not known here. nearest names: head"),
        ({"likelihoods": {"reason": (1.0, 2.0)}}, "component 'reason' is not known here"),
        ({"likelihoods": {"lamp": (1.0, 2.0)}}, "a machine of this class does not have it"),
        ({"likelihoods": {"head": (0.0, 0.0)}}, r"likelihood of what was found on head is \(0.0, 0.0\)"),
        ({"likelihoods": {"head": (-0.1, 1.0)}}, r"\(-0.1, 1.0\)"),
        ({"likelihoods": {"head": (math.nan, 1.0)}}, r"\(nan, 1.0\)"),
        ({"likelihoods": {"head": (1.0, math.inf)}}, r"\(1.0, inf\)"),
        ({"signs_seen": ("marc",)}, "sign 'marc' is not known here. nearest names: mark"),
        ({"signs_absent": ("marc",)}, "sign 'marc' is not known here"),
        ({"signs_seen": ("mark",), "signs_absent": ("mark",)}, "sign mark is given as seen and as not there"),
        ({"told": ("lef",)}, "word for what hit the machine 'lef' is not known here. nearest names: left"),
    ],
)
def test_evidence_that_cannot_be_used(evidence: dict[str, object], message: str) -> None:
    trade = make_trade(
        causes=[cause("hit", 0.5)], components=[component("head", 0.1), component("lamp", 0.1)], latents=["reason"],
        signs=[sign("mark", "front", {"hit": 0.5}, 0.1)], told={("left", "hit"): 0.5},
    )
    with pytest.raises(AnswerError, match=message):
        posterior(build_network(trade, absent=frozenset({"lamp"})), Evidence(**evidence))  # type: ignore[arg-type]


def test_maps_that_cannot_be_used() -> None:
    parts = [component("a", 0.1), component("b", 0.1), component("c", 0.1)]
    with pytest.raises(TradeDataError, match="round in a circle among a, b, c"):
        build_network(make_trade(components=parts, knock_ons={("a", "b"): 0.1, ("b", "c"): 0.1, ("c", "a"): 0.1}))
    with pytest.raises(TradeDataError, match="knock-on a > z: z is not known"):
        build_network(make_trade(components=parts, knock_ons={("a", "z"): 0.1}))
    with pytest.raises(TradeDataError, match="link hit > a: hit is not known"):
        build_network(make_trade(components=parts, links={("hit", "a"): 0.1}))
    with pytest.raises(TradeDataError, match="add up to 1.2"):
        build_network(make_trade(causes=[cause("hit", 0.6), cause("slide", 0.6)]))
    with pytest.raises(TradeDataError, match="hit may combine with slip, which is unknown"):
        build_network(make_trade(causes=[cause("hit", 0.6, partners=["slip"])]))
    with pytest.raises(AnswerError, match="figure of the map 'wear:aa' is not known here. nearest names: wear:a"):
        build_network(make_trade(components=parts), logit_shift={"wear:aa": 1.0})
    twice = make_trade(components=parts, knock_ons={("a", "b"): 0.1})
    with pytest.raises(TradeDataError, match="knock_on:a>b stands twice"):
        build_network(replace(twice, knock_ons=twice.knock_ons * 2))
    with pytest.raises(TradeDataError, match="sign mark: ratio 0.0 for a"):
        believe(make_trade(components=parts, signs=[sign("mark", "g", {}, 0.1, {"a": 0.0})]), signs_seen=("mark",))


def test_knock_ons_that_tie_too_much_together_are_refused() -> None:
    def many(n: int) -> Trade:
        return make_trade(
            components=[component(f"p{i}", 0.1) for i in range(n)] + [component("hub")],
            knock_ons={(f"p{i}", "hub"): 0.1 for i in range(n)},
        )

    # hand-worked: the hub and n parents stand in one table.
    assert believe(many(MOST_IN_A_TABLE - 1)).chance["hub"] == pytest.approx(1.0 - 0.99 ** (MOST_IN_A_TABLE - 1))
    with pytest.raises(ClusterTooLarge, match=f"at most {MOST_IN_A_TABLE} components in one table"):
        build_network(many(MOST_IN_A_TABLE))
