"""Money already gone: each sum once (all expected sums hand-worked)."""

from __future__ import annotations

import datetime as dt
from typing import Any

import msgspec
import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.record.sunk import sunk
from wreckwright.record.types import Machine

DAY = dt.date(2026, 11, 20)
PURCHASE = {"bought": True, "price_minor": 100_000, "fees_minor": 8_000, "freight_minor": 5_000}
PUMP = {"id": "pump", "paid_minor": 9_000}


def machine(purse: list[dict[str, Any]] = (), **fields: Any) -> Machine:  # type: ignore[assignment]
    lines = [{"id": f"u{n}", "date": DAY, "what": "x", **line} for n, line in enumerate(purse)]
    return msgspec.convert({"nickname": "S", "machine_class": "naked", "year": 2019, "purse": lines, **fields}, Machine)


@pytest.mark.parametrize(
    ("purse", "parts", "expected", "guessed"),
    [
        ([], [], 113_000, []),
        ([], [PUMP], 122_000, []),
        # A further payment, and money that came in.
        ([{"out_minor": 700}, {"out_minor": -200}], [], 113_500, []),
        # The purchase and the pump, paid as they are stated: nothing further.
        ([{"out_minor": 108_000, "pays": "purchase"}, {"out_minor": 5_000, "pays": "purchase"}], [PUMP], 122_000, []),
        ([{"out_minor": 9_000, "pays": "pump"}], [PUMP], 122_000, []),
        # More was paid than is stated.
        ([{"out_minor": 120_000, "pays": "purchase"}], [], 120_000, []),
        ([{"out_minor": 4_000, "pays": "pump"}, {"out_minor": 6_000, "pays": "pump"}], [PUMP], 123_000, []),
        # The same sums without `pays`: taken as the payments, once each, and named.
        ([{"out_minor": 100_000}], [], 113_000, ["purse.u0.pays"]),
        ([{"out_minor": 113_000}], [], 113_000, ["purse.u0.pays"]),
        ([{"out_minor": 8_000}, {"out_minor": 8_000}], [], 121_000, ["purse.u0.pays"]),
        ([{"out_minor": 9_000}], [PUMP], 122_000, ["purse.u0.pays"]),
        # Where a line names its payee, an equal sum elsewhere is a further payment.
        ([{"out_minor": 9_000, "pays": "pump"}, {"out_minor": 9_000}], [PUMP], 131_000, []),
        # Money back: by a line, by the state, by both; in part.
        ([{"out_minor": -9_000, "pays": "pump"}], [PUMP], 113_000, []),
        ([], [{**PUMP, "state": "refunded"}], 113_000, []),
        ([{"out_minor": -9_000, "pays": "pump"}], [{**PUMP, "state": "refunded"}], 113_000, []),
        ([{"out_minor": -7_500, "pays": "pump"}], [{**PUMP, "state": "refunded"}], 114_500, []),
        # Tomorrow's payment has not happened.
        ([{"out_minor": 700, "date": DAY + dt.timedelta(days=1)}], [], 113_000, []),
    ],
)
def test_each_sum_counts_once(
    purse: list[dict[str, Any]], parts: list[dict[str, Any]], expected: int, guessed: list[str]
) -> None:
    result = sunk(machine(purse, purchase=PURCHASE, parts=parts), as_of=DAY)
    assert result.total_minor == expected
    assert [guess.field for guess in result.guesses] == guessed


def test_of_a_lot_not_bought_only_what_was_spent_on_looking_is_gone() -> None:
    lot = {**PURCHASE, "bought": False}
    assert sunk(machine([{"out_minor": 1_200}], purchase=lot), as_of=DAY).total_minor == 1_200
    # A deposit for it is gone too.
    assert sunk(machine([{"out_minor": 20_000, "pays": "purchase"}], purchase=lot), as_of=DAY).total_minor == 20_000


def test_a_guess_says_the_sum_and_the_payee() -> None:
    (guess,) = sunk(machine([{"out_minor": 9_000}], purchase=PURCHASE, parts=[PUMP]), as_of=DAY).guesses
    assert guess.value == "EUR 90.00 taken as the payment of pump, not a further one"


@given(st.lists(st.integers(-50_000, 50_000), max_size=6))
def test_further_payments_add_up(amounts: list[int]) -> None:
    # hand-worked law: with nothing stated elsewhere, what is gone is the sum of the purse.
    purse = [{"out_minor": amount} for amount in amounts]
    assert sunk(machine(purse), as_of=DAY).total_minor == sum(amounts)


def test_payments_are_told_by_part_and_for_the_machine() -> None:
    record = msgspec.convert(
        {
            "nickname": "S", "machine_class": "naked", "year": 2019, "purchase": {"bought": True},
            "parts": [{"id": "p1", "paid_minor": 1000}, {"id": "p2"}, {"id": "p3", "paid_minor": 700}],
            "purse": [
                {"id": "u1", "date": "2026-11-01", "what": "rim", "out_minor": 2500, "pays": "p2"},
                {"id": "u2", "date": "2026-11-02", "what": "back", "out_minor": -200, "pays": "p3"},
                {"id": "u3", "date": "2026-11-02", "what": "it", "out_minor": 90000, "pays": "purchase"},
            ],
        },
        Machine,
    )
    spent = sunk(record, as_of=dt.date(2026, 11, 20))
    # hand-worked: as stated; as the purse says; 7.00 less the 2.00 that came back
    assert spent.part_minor == {"p1": 1000, "p2": 2500, "p3": 500}
    assert spent.purchase_minor == 90000
    assert spent.total_minor == 94000
