"""Everything filled in, every default named (expected values hand-worked from the trade data's own rows)."""

from __future__ import annotations

import dataclasses
import datetime as dt
from pathlib import Path

import pytest

from wreckwright.errors import AnswerError, RecordError
from wreckwright.record.file import read_record
from wreckwright.record.resolve import Known, resolve
from wreckwright.trade.load import load_trade
from wreckwright.trade.mirror import mirror_trade

TRADE = load_trade()
DAY = dt.date(2026, 11, 20)
HEAD = 'nickname = "Sorrel"\nmachine_class = "tourer"\nyear = 2019\n'
ALL_SAID = """
[purchase]
bought = true
price_minor = 245000
fees_minor = 0
freight_minor = 9500
brand = "clean"
[market]
sound_value = { low_minor = 600000, likely_minor = 690000, high_minor = 760000 }
selling_share = 0.03
days_to_sell = 40
[calendar]
weekday_minutes = [0, 60, 0, 0, 0, 0, 480]
attendance = 0.8
[owner]
accepted_loss_chance = 0.1
hour_value_minor = 2000
workshop_hour_minor = 8000
wanted_pay_minor = 2500
holding_day_minor = 300
pace = 1.2
"""


def resolved(text: str, *, head: str = HEAD) -> Known:
    return resolve(read_record((head + text).encode()), TRADE, as_of=DAY)


def guesses(known: Known) -> dict[str, str]:
    return {guess.field: guess.value for guess in known.guesses}


def test_what_is_said_is_taken_and_nothing_is_guessed() -> None:
    known = resolved(ALL_SAID)
    assert known.guesses == ()
    assert known.sound_value_minor == (600000, 690000, 760000)
    assert known.weekday_minutes == (0, 60, 0, 0, 0, 0, 480)
    assert (known.attendance, known.attendance_known) == (0.8, True)
    assert (known.workshop_hour_minor, known.hour_value_minor, known.wanted_pay_minor) == (8000, 2000, 2500)
    assert (known.holding_day_minor, known.accepted_loss_chance, known.pace) == (300, 0.1, 1.2)
    assert (known.days_to_sell, known.selling_share, known.brand) == (40.0, 0.03, "clean")
    assert (known.bought, known.price_minor, known.fees_minor, known.freight_minor) == (True, 245000, 0, 9500)
    assert known.sunk_minor == 254500
    assert known.age_years == 7


def test_every_default_is_named() -> None:
    known = resolved("[market]\nsound_value_minor = 500000\n")
    # common practice: two evenings of two hours and one day of five, at 60 %; 30 days to sell; a loss in 20 % accepted.
    assert known.weekday_minutes == (0, 120, 0, 120, 0, 300, 0)
    assert (known.attendance, known.attendance_known) == (0.6, False)
    assert (known.days_to_sell, known.accepted_loss_chance, known.hour_value_minor, known.wanted_pay_minor) == (
        30,
        0.2,
        0,
        0,
    )
    assert known.sound_value_minor == (450000, 500000, 550000)
    assert known.pace == 1.0 and known.selling_share == TRADE.money["selling_share"].figure.mid
    # hand-worked: 9 % a year on half of 5,000.00, and 8 % a year of 5,000.00 for age.
    assert known.holding_day_minor == round((0.09 * 250000 + 0.08 * 500000) / 365)
    assert known.freight_minor == round(6500 * (1.5 + 50 * 0.012))
    assert guesses(known) == {
        "owner.workshop_hour_minor": "EUR 65.00 an hour of a paid workshop",
        "market.sound_value": "EUR 4,500.00 to EUR 5,500.00, most likely EUR 5,000.00, for a straight one",
        "owner.hour_value_minor": "EUR 0.00 for an hour of own work",
        "calendar.weekday_minutes": "2 evenings of 2 h and one day of 5 h a week",
        "calendar.attendance": "60 % of the planned evenings really worked",
        "owner.wanted_pay_minor": "EUR 0.00 an hour wanted",
        "owner.holding_day_minor": "EUR 1.71 a day for the money tied up and what it loses with age",
        "owner.accepted_loss_chance": "a loss in 20 % of cases is accepted",
        "market.days_to_sell": "30 days to sell",
        "market.selling_share": "5 % of the price for selling",
        "purchase.brand": "Repaired, damage disclosed, no official brand, 12 % off the sound value",
        "purchase.freight_minor": "EUR 136.50 to fetch it 50 km",
        "owner.pace": "the trade's own working times, neither faster nor slower",
    }
    assert all(guess.basis for guess in known.guesses)


def test_without_a_sound_value_the_class_gives_a_wide_one() -> None:
    known = resolved("")
    hours = TRADE.classes["tourer"].default_sound_value_hours
    assert known.sound_value_minor == tuple(round(6500 * hour) for hour in (hours.low, hours.mid, hours.high))
    assert "market.sound_value_minor" in guesses(known)


@pytest.mark.parametrize(
    ("text", "brand"),
    [
        ("", "repaired_disclosed"),
        ('what_hit = "front"\n', "repaired_disclosed"),
        ('what_hit = ["stood", "left"]\n', "repaired_disclosed"),
        ('what_hit = "stood"\n', "clean"),
        ('what_hit = "stripped"\n', "clean"),
    ],
)
def test_the_brand_that_is_taken_depends_on_what_happened(text: str, brand: str) -> None:
    assert resolved(text).brand == brand


def test_in_a_currency_of_another_size_the_workshop_hour_follows_the_sound_value() -> None:
    known = resolved('currency = "JPY"\n[market]\nsound_value_minor = 780000\n')
    # hand-worked: a tourer is worth 130 workshop hours.
    assert known.workshop_hour_minor == 6000
    # Without a sound value there is nothing to scale by; the yen has no smaller unit.
    assert resolved('currency = "JPY"\n').workshop_hour_minor == 65


def test_the_day_of_the_question_goes_before_that_of_the_record_and_one_is_needed() -> None:
    machine = read_record((HEAD + "as_of = 2026-10-01\n").encode())
    assert resolve(machine, TRADE, as_of=None).as_of == dt.date(2026, 10, 1)
    assert resolve(machine, TRADE, as_of=DAY).as_of == DAY
    with pytest.raises(AnswerError, match="no day is named") as caught:
        resolve(read_record(HEAD.encode()), TRADE, as_of=None)
    assert "as_of = 2026-11-20" in caught.value.do


def test_names_the_trade_data_do_not_know_are_refused() -> None:
    with pytest.raises(RecordError, match="wheel bent") as caught:
        resolved('findings = ["wheel bent", "mirror gone"]')
    assert len(caught.value.problems) == 2


def test_a_mirrored_machine_needs_mirrored_data() -> None:
    machine = read_record((HEAD + "mirrored = true\n").encode())
    with pytest.raises(ValueError, match="mirrored trade data"):
        resolve(machine, TRADE, as_of=DAY)
    assert resolve(machine, mirror_trade(TRADE), as_of=DAY).mirrored


def test_what_the_class_lacks_is_absent_unless_the_owner_has_it_in_front_of_him() -> None:
    bare = resolved("", head=HEAD.replace("tourer", "single"))
    assert {"radiator", "fairing_l", "luggage_rack"} <= bare.absent
    rack = resolved(
        'findings = ["rack bent", { side = "left", looked_fine = true }]', head=HEAD.replace("tourer", "single")
    )
    assert "luggage_rack" not in rack.absent and "radiator" in rack.absent
    assert not rack.absent & (rack.fine | set(rack.likelihoods))


def test_a_class_by_another_name() -> None:
    assert resolved("", head=HEAD.replace("tourer", "Sport-Tourer")).trade_class.id == "tourer"


def test_quick_questions_become_gate_answers() -> None:
    known = resolved('turns_over = "yes"\npapers_right = "no"\nkey_starts_it = "yes"\n')
    assert {gate.template: gate.answer for gate in known.gates} == {
        "turns": "yes", "papers": "no", "key_turns": "yes", "chip_read": "yes", "unit_learns": "yes",
    }  # fmt: skip
    assert len({gate.id for gate in known.gates}) == 5
    # Why it does not start is not known.
    assert resolved('key_starts_it = "no"\n').gates == ()


def test_an_answer_in_the_gates_own_row_goes_before_the_quick_question() -> None:
    rows = '[[gates]]\nid = "t"\ntemplate = "turns"\nanswer = "{}"\n'
    (gate,) = resolved('turns_over = "yes"\n' + rows.format("no")).gates
    assert (gate.id, gate.answer) == ("t", "no")
    (gate,) = resolved('turns_over = "yes"\n' + rows.format("unasked")).gates
    assert (gate.id, gate.answer) == ("t", "yes")


def test_a_gate_of_ones_own_is_filled_in_and_named() -> None:
    known = resolved('[[gates]]\nid = "own"\nquestion = "Will he sell the tank?"\nkind = "outside"\n')
    (gate,) = known.gates
    assert (gate.chance_yes, gate.wait_days) == (0.8, 21.0)
    assert {"gates.own.chance_yes", "gates.own.wait_days"} <= set(guesses(known))
    told = resolved(
        '[[gates]]\nid = "own"\nquestion = "?"\nkind = "outside"\nchance_yes = 0.5\nexpected_on = 2026-12-01\n'
    )
    assert (told.gates[0].chance_yes, told.gates[0].wait_days) == (0.5, None)
    assert not any(field.startswith("gates.") for field in guesses(told))


def test_signs_and_what_was_told() -> None:
    known = resolved(
        'what_hit = ["left", "left", "unknown"]\n'
        'signs = ["coolant_stain", "Fresh scrapes on left side only", { sign = "milky_oil", seen = false }]\n'
    )
    assert known.signs_seen == ("coolant_stain", "one_side_scrape_left")
    assert known.signs_absent == ("milky_oil",)
    assert known.told == ("left", "unknown")


def test_of_a_machine_already_bought_a_missing_price_is_named() -> None:
    known = resolved("[purchase]\nbought = true\nat_auction = true\n")
    assert known.price_minor is None and known.freight_minor == 0
    assert {"purchase.price_minor", "purchase.fees_minor", "purchase.freight_minor"} <= set(guesses(known))
    paid = resolved(
        '[purchase]\nbought = true\n[[purse]]\ndate = 2026-10-01\nwhat = "it"\nout_minor = 99\npays = "purchase"\n'
    )
    assert "purchase.price_minor" not in guesses(paid) and paid.sunk_minor == 99


def test_of_a_lot_not_bought_fees_stay_open_for_the_fee_steps() -> None:
    known = resolved("[purchase]\nat_auction = true\n")
    assert (known.bought, known.at_auction, known.fees_minor) == (False, True, None)
    assert "purchase.fees_minor" not in guesses(known)


def test_the_same_record_is_the_same_known_and_nothing_in_it_can_be_set() -> None:
    text = (Path(__file__).resolve().parents[2] / "examples" / "sorrel.toml").read_bytes()
    machine = read_record(text)
    known = resolve(machine, TRADE, as_of=None)
    assert known == resolve(read_record(text), load_trade(), as_of=None)
    with pytest.raises(dataclasses.FrozenInstanceError):
        known.pace = 2.0  # type: ignore[misc]


def test_a_price_that_stands_in_the_purse_only_is_the_price() -> None:
    paid = resolved(
        "[purchase]\nbought = true\nfees_minor = 9\nfreight_minor = 0\n"
        '[[purse]]\ndate = 2026-10-01\nwhat = "it"\nout_minor = 99\npays = "purchase"\n'
    )
    # hand-worked: 99 paid, 9 of it fees
    assert (paid.price_minor, paid.sunk_minor) == (90, 99)


def test_a_part_line_knows_what_the_purse_has_paid_for_it() -> None:
    paid = resolved(
        '[[parts]]\nid = "p"\nname = "pump"\nstate = "ordered"\nprice_minor = 50\n'
        '[[purse]]\ndate = 2026-10-01\nwhat = "pump"\nout_minor = 30\npays = "p"\n'
    )
    assert paid.parts[0].paid_minor == 30


def test_changed_days_and_what_finished_jobs_teach_are_there() -> None:
    known = resolved(
        "[calendar]\nchanged = [{ date = 2026-12-05, minutes = 0 }, { date = 2026-11-28, minutes = 90 }]\n"
        '[[jobs]]\nname = "a"\nkind = "test"\nstate = "proved"\ndone_minutes = 30\n'
        "minutes = { low = 20, likely = 30, high = 40 }\n"
    )
    assert [(one.date.day, one.minutes) for one in known.changed] == [(28, 90), (5, 0)]
    assert known.pace_by_kind == {"test": pytest.approx(1.0)}


def test_what_goes_with_a_batch_is_there_whatever_the_class_lacks() -> None:
    lacking = sorted(TRADE.classes["naked"].absent_components)[0]
    head = HEAD.replace("tourer", "naked")
    assert lacking in resolved("", head=head).absent
    assert lacking not in resolved(f'[[batches]]\nname = "paint"\ncomponents = ["{lacking}"]\n', head=head).absent
