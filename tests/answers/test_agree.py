"""All answers are read from the same futures: they cannot contradict each other, and they always give their grounds."""

from __future__ import annotations

import ast
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

import wreckwright.answers.types as types
from tests.answers.toys import mixed_futures
from wreckwright.answers.bid import bid
from wreckwright.answers.foresight import foresight
from wreckwright.answers.types import MoneyAnswer
from wreckwright.answers.verdict import verdict
from wreckwright.futures.scene import Futures

LOTS = [{"bought": False}, {"bought": False, "price_minor": None}, {}, {"price_minor": None}, {"currency": "JPY"}]


@pytest.mark.parametrize("over", LOTS)
def test_loss_net_and_pay_are_the_same_in_bid_and_foresight(over: dict[str, object]) -> None:
    futures = mixed_futures(1500, fee_steps=((0, 0.2), (50_000, 0.1)), fee_minimum_minor=3_000, **over)
    seen, offer = foresight(futures), bid(futures)
    if futures.price_minor is not None:
        assert offer.at_price is not None
        assert offer.at_price.loss_chance == seen.loss.chance
        assert offer.at_price.net_mean_minor == seen.net.mean_minor
        assert offer.at_price.pay_per_hour_minor == seen.pay_per_hour.mean_minor
        if not futures.bought:
            assert offer.at_price.all_in_minor <= seen.largest_cash_out.p20_minor


@pytest.mark.parametrize("over", LOTS)
@pytest.mark.parametrize("n", [1, 2, 37, 300])
def test_any_number_of_futures_gives_all_answers(over: dict[str, object], n: int) -> None:
    for answer in (foresight, verdict, bid):
        found: MoneyAnswer = answer(mixed_futures(n, **over))
        assert found.n_futures == n
        assert found.why.endswith(".") and found.why[0].isupper()
        assert found.rests_on
        # Every number can be written down: no endless and no undefined ones.
        assert "null" not in _numbers_of(found)
        assert msgspec.json.decode(msgspec.json.encode(found), type=type(found)) == found


def _numbers_of(found: MoneyAnswer) -> set[str]:
    """`null` if a float of the answer is endless or undefined (which JSON cannot say), though it is not None."""

    def walk(value: object) -> set[str]:
        if isinstance(value, float):
            return {"null"} if value != value or value in (float("inf"), float("-inf")) else set()
        if isinstance(value, msgspec.Struct):
            return set().union(*(walk(getattr(value, name)) for name in value.__struct_fields__))
        return set().union(*map(walk, value)) if isinstance(value, tuple) else set()

    return walk(found)


def test_the_same_futures_give_the_same_bytes() -> None:
    def all_answers(futures: Futures) -> bytes:
        return b"".join(msgspec.json.encode(answer(futures)) for answer in (foresight, verdict, bid))

    assert all_answers(mixed_futures(500)) == all_answers(mixed_futures(500))


def test_the_price_paid_moves_bid_and_foresight_but_not_the_verdict() -> None:
    futures = mixed_futures(800, bought=False)
    dear = replace(futures, price_minor=150_000)
    assert foresight(dear).loss.chance > foresight(futures).loss.chance
    assert bid(dear).walk_away_minor == bid(futures).walk_away_minor
    assert verdict(dear).reckoning == verdict(futures).reckoning


def test_every_bare_number_in_a_result_carries_its_unit_in_its_name() -> None:
    tree = ast.parse(Path(types.__file__).read_text())
    plain = {"chance", "share", "loss_chance", "reached_chance", "stop_chance", "stops_chance", "flip_chance",
             "change_share",
             "accepted_loss_chance", "suspect_over", "n_futures", "month", "listings"}
    units = ("_minor", "days", "hours", "months", "minutes")
    for node in ast.walk(tree):
        if isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            kind = ast.unparse(node.annotation)
            name = node.target.id.removesuffix("_se")
            if kind.split(" |")[0] in ("int", "float") and name not in plain:
                assert any(unit in name for unit in units), name
