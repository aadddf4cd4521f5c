"""Plain words, UK and US, mean what people in the trade mean by them (common practice throughout)."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.record.phrases import FAMILIES, SPELLINGS, TURNS_INTO
from wreckwright.record.words import Match, Unclear, Words, read_sign
from wreckwright.trade.load import load_trade

TRADE = load_trade()
WORDS, AGAIN = Words(TRADE), Words(TRADE)
FORKS = ("fork_tube_l", "fork_tube_r")

# common practice: what is meant, the damage in our word, and 1 looks, 2 works badly, 3 can hurt.
MEANT = {
    "right indicator broken": (("indicator_fr",), "broken", 2),
    "water pump cover cracked": (("water_pump",), "cracked", 3),
    "front rim dinged": (("front_wheel",), "dented", 2),
    "left mirror gone": (("mirror_l",), "missing", 2),
    "forks twisted": (FORKS, "bent", 3),
    "rear brake seized": (("rear_caliper",), "seized", 2),
    "rust in the tank": (("fuel_tank_inside",), "rusted", 2),
    "wheel-speed lead torn": (("wheel_speed_sensors",), "torn", 2),
    "rack bent": (("luggage_rack",), "bent", 2),
    "steering stop chipped": (("steering_stop",), "chipped", 2),
    "tank dented": (("fuel_tank_shell",), "dented", 1),
    "fork leaking": (("fork_seals",), "leaking", 2),
    "crack in the frame head": (("frame_head",), "cracked", 3),
    "dent in tank near the cap": (("fuel_tank_shell",), "dented", 1),
    "clutch cover holed": (("engine_cover_r",), "holed", 3),
    "engine seized": (("bottom_end",), "seized", 3),
    "brake and clutch fluid old": (("brake_fluid",), "damaged", 3),
    "chain and sprockets worn": (("chain_sprockets",), "worn", 3),
    "no left mirror": (("mirror_l",), "missing", 2),
    "starter motor not working": (("starter_circuit",), "dead", 2),
    "all indicators broken": (("indicator_fl", "indicator_fr", "indicator_rl", "indicator_rr"), "broken", 2),
    "right fairing scratched": (("fairing_r",), "scratched", 1),
    "front wheel scratched": (("front_wheel",), "scratched", 1),
    "offside footrest snapped": (("peg_r",), "broken", 2),
    "gear lever bent": (("shift_lever",), "bent", 2),
    "battery": (("battery",), "damaged", 2),
}
SAME = [
    ("left front indicator broken", "left front turn signal broken", "left front blinker smashed"),
    ("front mudguard cracked", "front fender cracked"),
    ("tank dented", "gas tank dented", "petrol tank dinged", "dent in the fuel tank"),
    ("silencer scraped", "muffler scuffed", "end can scratched"),
    ("screen gone", "windshield missing", "windscreen gone"),
    ("side stand bent", "kickstand bent", "sidestand bent"),
    ("front tyre worn", "front tire worn"),
    ("headlamp broken", "headlight smashed"),
    ("top clamp cracked", "top yoke cracked", "upper triple tree cracked"),
    ("bottom clamp bent", "lower yoke bent", "lower triple clamp bent"),
    ("wiring loom cut", "wiring harness cut"),
    ("front disc warped", "front brake rotor bent"),
    ("left rear-set snapped", "left rearset broken", "left footrest hanger broken"),
    ("handlebars bent", "clip-ons twisted", "bars bent"),
    ("gear lever bent", "shifter bent", "shift lever bent"),
    ("right mirror gone", "no right mirror", "right mirror missing"),
]


@pytest.mark.parametrize("text", MEANT)
def test_plain_words_are_understood(text: str) -> None:
    components, condition, severity = MEANT[text]
    match = WORDS.finding(text)
    assert isinstance(match, Match)
    assert (match.components, match.condition, match.severity) == (components, condition, severity)
    assert match.missing == (condition == "missing")
    assert not match.fine


@pytest.mark.parametrize("texts", SAME, ids=lambda texts: texts[0])
def test_words_of_both_shores_and_everyday_words_mean_the_same(texts: tuple[str, ...]) -> None:
    first = WORDS.finding(texts[0])
    assert isinstance(first, Match)
    assert [WORDS.finding(text) for text in texts] == [first] * len(texts)


@pytest.mark.parametrize(
    ("text", "components"),
    [
        ("front wheel is fine", ("front_wheel",)),
        ("forks straight", FORKS),
        ("no damage to the front wheel", ("front_wheel",)),
        ("swingarm not bent", ("swingarm",)),
        ("seat looks all right", ("seat",)),
        ("left mirror undamaged", ("mirror_l",)),
        ("radiator doesn't leak", ("radiator",)),
        ("horn works", ("horn",)),
    ],
)
def test_words_can_say_that_something_is_sound(text: str, components: tuple[str, ...]) -> None:
    match = WORDS.finding(text)
    assert isinstance(match, Match)
    assert match.fine and match.components == components and not match.missing


@pytest.mark.parametrize("text", ["headlamp doesn't work", "horn not ok", "front wheel straight but cracked"])
def test_what_is_not_sound_is_not_read_as_sound(text: str) -> None:
    match = WORDS.finding(text)
    assert isinstance(match, Match)
    assert not match.fine


@pytest.mark.parametrize(
    ("text", "reason", "candidates"),
    [
        ("wheel bent", "could be Front wheel or Rear wheel", ("front_wheel", "rear_wheel")),
        ("mirror broken", "could be Mirror, left or Mirror, right", ("mirror_l", "mirror_r")),
        ("fork and front wheel bent", "names several parts", ("fork_tube_l", "front_wheel")),
        ("left peg and hanger", "names several parts", ("peg_l", "rearset_l")),
    ],
)
def test_what_is_not_clear_is_asked_back(text: str, reason: str, candidates: tuple[str, ...]) -> None:
    unclear = WORDS.finding(text)
    assert isinstance(unclear, Unclear)
    assert reason in unclear.reason
    assert unclear.candidates == candidates
    assert all(TRADE.components[name].name_uk.lower() in unclear.do.lower() for name in candidates)


def test_unknown_words_get_the_nearest_three_parts() -> None:
    unclear = WORDS.finding("radiant broken")
    assert isinstance(unclear, Unclear)
    assert unclear.reason == "no part is known by these words"
    assert len(unclear.candidates) == 3 and "radiator" in unclear.candidates
    assert 'component = "radiator"' in unclear.do


def test_a_slip_of_the_pen_is_put_right_and_named() -> None:
    match = WORDS.finding("indcator left rear broken")
    assert isinstance(match, Match)
    assert match.components == ("indicator_rl",)
    assert match.assumed == "'indcator' read as 'indicator'"


def test_what_was_assumed_is_named() -> None:
    match = WORDS.finding("mirror broken", assume_side="left")
    assert isinstance(match, Match)
    assert (match.components, match.assumed) == (("mirror_l",), "left side, as that side was hit")
    match = WORDS.finding("indicator broken", assume_side="right")
    assert isinstance(match, Match)
    assert match.components == ("indicator_fr",)
    assert match.assumed == "right side, as that side was hit; front one, as no end is named"
    # A side in the words goes before the side that was hit; a dear part's end is not assumed.
    match = WORDS.finding("left mirror broken", assume_side="right")
    assert isinstance(match, Match) and match.components == ("mirror_l",) and not match.assumed
    assert isinstance(WORDS.finding("wheel bent", assume_side="right"), Unclear)


@pytest.mark.parametrize(
    ("name", "side", "component"),
    [
        ("mirror_l", "", "mirror_l"),
        ("mirror", "left", "mirror_l"),
        ("front rim", "", "front_wheel"),
        ("peg", "right", "peg_r"),
    ],
)
def test_a_component_by_name(name: str, side: str, component: str) -> None:
    assert WORDS.component(name, side=side) == component


def test_a_name_of_several_components_is_asked_back() -> None:
    unclear = WORDS.component("fork")
    assert isinstance(unclear, Unclear) and unclear.candidates == FORKS


def test_every_name_and_synonym_leads_to_its_component() -> None:
    # hand-worked: a name may be shared (fork: both tubes), but then its own component is among those offered.
    lost = []
    for component in TRADE.components.values():
        for label in (component.name_uk, component.name_us, *component.synonyms):
            read = WORDS.finding(f"{component.side if component.mirror else ''} {label}")
            offered = read.components if isinstance(read, Match) else read.candidates
            if component.id not in offered:
                lost.append((label, component.id, offered))
    assert not lost


def test_signs_by_id_and_by_words() -> None:
    for sign in TRADE.signs.values():
        assert WORDS.sign(sign.id) == sign.id
        assert WORDS.sign(sign.text.upper()) == sign.id
    assert WORDS.sign("scrapes on the left only") == "one_side_scrape_left"
    unclear = read_sign("front wheel pushed back", TRADE)
    assert isinstance(unclear, Unclear)
    assert unclear.candidates[0] == "front_wheel_rearward"


def test_the_tables_name_only_what_there_is() -> None:
    named = {name for components in FAMILIES.values() for name in components}
    named |= {name for name, _ in TURNS_INTO} | set(TURNS_INTO.values())
    assert named <= set(TRADE.components)
    sources = [source for source, _ in SPELLINGS]
    assert len(sources) == len(set(sources))


@given(st.text(max_size=200), st.sampled_from(["", "left", "right"]))
def test_any_text_gets_an_answer_and_always_the_same(text: str, side: str) -> None:
    first = AGAIN.finding(text, assume_side=side)
    assert first == WORDS.finding(text, assume_side=side)
    offered = first.components if isinstance(first, Match) else first.candidates
    assert offered and set(offered) <= set(TRADE.components)


def test_an_engine_that_is_gone_is_gone_with_all_that_is_in_it() -> None:
    match = WORDS.finding("engine gone")
    assert isinstance(match, Match)
    assert (set(match.components), match.missing) == ({"bottom_end", "top_end", "crankcase"}, True)
    assert isinstance(WORDS.finding("engine cracked"), Unclear)


def test_words_like_no_part_at_all_are_not_sent_to_one() -> None:
    unclear = WORDS.finding("wobble")
    assert isinstance(unclear, Unclear)
    assert unclear.do.startswith("name the part") and "component =" not in unclear.do
