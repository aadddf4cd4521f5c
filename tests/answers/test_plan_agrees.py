"""One example machine, planned as it is for its owner: running order, tonight and next step say the same."""

from __future__ import annotations

import datetime as dt
from functools import lru_cache
from pathlib import Path

from wreckwright.acts import ask
from wreckwright.answers.bid import bid
from wreckwright.answers.evening import evening
from wreckwright.answers.foresight import foresight
from wreckwright.answers.next_step import next_step
from wreckwright.answers.plan_types import Evening, RunningOrder
from wreckwright.answers.running_order import running_order
from wreckwright.answers.tonight import tonight
from wreckwright.answers.types import NextStep
from wreckwright.answers.verdict import verdict
from wreckwright.futures.binding import binding_shares
from wreckwright.futures.scene import Futures
from wreckwright.plan.make import planned_futures

SORREL = Path(__file__).resolve().parents[2] / "examples" / "sorrel.toml"


@lru_cache(maxsize=1)
def sorrel() -> tuple[Futures, RunningOrder, Evening, NextStep]:
    opened = ask.open_machine(ask.Question(machine=SORREL))
    futures, planned, drawn = planned_futures(opened.known, opened.trade, n=300)
    binding = binding_shares(futures.rebuild, futures.worlds, futures.policy, futures.played)
    of = evening(drawn, planned, opened.trade)
    step = next_step(
        opened.known, opened.trade, damage=futures.damage, cause_chance=futures.scenario, verdict=verdict(futures),
        bid=bid(futures), fit=ask.fit_of(opened, damage=futures.damage), evening=of,
    )
    return futures, running_order(futures, planned, drawn, opened.trade, binding), of, step


def test_the_plan_can_be_kept_and_ends_as_the_foresight_says() -> None:
    futures, order, _, _ = sorrel()
    assert order.broken == ()
    ahead = foresight(futures)
    assert ahead.finish is not None and (order.finish, order.finish_p80) == (ahead.finish.p50, ahead.finish.p80)


def test_tonight_is_from_the_plan() -> None:
    _, order, of, _ = sorrel()
    on_calendar = {entry.key for stretch in order.stretches for entry in stretch.entries}
    assert {work.key for work in of.works} <= on_calendar
    assert {work.key: work.stage for work in of.works if work.kind != "gate"}.items() <= order.stages.items()
    assert of.question == order.stretches[0].question
    # What the plan puts first and the record says is ready stands on a long evening's list.
    listed = {entry.key for entry in tonight(of, 12.0).entries}
    begun_today = {entry.key for entry in order.stretches[0].entries
                   if entry.kind in ("job", "look") and not entry.waits_for
                   and entry.from_date == min(one.from_date for one in order.stretches[0].entries)}
    assert begun_today & {work.key for work in of.works} <= listed


def test_next_and_tonight() -> None:
    _, _, of, step = sorrel()
    first = tonight(of, of.planned_minutes / 60.0 or 2.0).entries[0]
    if step.kind in ("do", "fit") or (step.kind == "look" and step.gate and not step.check):
        assert step.key == first.key
    else:
        assert step.kind in ("ask", "look", "get", "sell", "prove")
    # Sorrel's pump cover has not come: nobody is sent to fit it.
    assert step.key not in {work.key for work in of.works if not work.ready}


def test_evenings_are_booked_from_today_on() -> None:
    _, order, of, _ = sorrel()
    assert order.booked and order.booked[0][0] >= of.date
    assert all(dt.date.fromisoformat(date) and 0 <= begin < end <= 1440 for date, begin, end in order.booked)
