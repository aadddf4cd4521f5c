"""Every suspect of a foresight comes with the look of the trade data that settles it."""

from __future__ import annotations

from wreckwright.acts.checks import trade_data
from wreckwright.acts.suspects import suspect_looks
from wreckwright.answers.types import Suspect


def suspects(*names: str) -> tuple[Suspect, ...]:
    return tuple(Suspect(component=name, chance=0.4, words="about 4 in 10, trade judgement") for name in names)


def test_it_brings_how_to_look_and_what_a_bad_one_looks_like() -> None:
    trade = trade_data()
    (look,) = suspect_looks(suspects("brake_pedal"), {"brake_pedal": "Rear brake pedal"}, trade)
    row = trade.components["brake_pedal"]
    assert (look.name, look.words) == ("Rear brake pedal", "about 4 in 10, trade judgement")
    assert (look.look, look.bad, look.minutes) == (row.look_how, row.bad_looks_like, row.look_minutes)
    assert look.look and look.bad and look.minutes > 0


def test_a_part_that_the_trade_data_do_not_know_is_named_all_the_same() -> None:
    (look,) = suspect_looks(suspects("own_gadget"), {}, trade_data())
    assert (look.name, look.look, look.minutes) == ("own gadget", "", 0.0)


def test_the_likeliest_come_first_and_only_so_many() -> None:
    found = suspect_looks(suspects("seat", "battery", "mirror_l"), {}, trade_data(), most=2)
    assert [one.component for one in found] == ["seat", "battery"]
