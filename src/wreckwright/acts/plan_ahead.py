"""One machine's plan, the futures it leads to, and what is read from both. Heavy: only for whoever reckons."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from wreckwright.acts.reckon_inputs import NOTHING_BOOKED
from wreckwright.answers.evening import evening
from wreckwright.answers.job_card import job_cards
from wreckwright.answers.plan_types import Evening, JobCard, RunningOrder
from wreckwright.answers.running_order import running_order
from wreckwright.futures.binding import binding_shares
from wreckwright.futures.draw import Drawn
from wreckwright.futures.scene import Futures
from wreckwright.plan.make import Planned, planned_futures
from wreckwright.plan.types import Plan
from wreckwright.record.known import Known
from wreckwright.trade.types import Trade


@dataclass(frozen=True, kw_only=True)
class Ahead:
    futures: Futures
    planned: Planned
    drawn: Drawn
    trade: Trade

    @property
    def known(self) -> Known:
        return self.drawn.known

    def running_order(self) -> RunningOrder:
        futures = self.futures
        binding = binding_shares(futures.rebuild, futures.worlds, futures.policy, futures.played)
        return running_order(futures, self.planned, self.drawn, self.trade, binding)

    def evening(self) -> Evening:
        return evening(self.drawn, self.planned, self.trade)

    def cards(self) -> tuple[JobCard, ...]:
        return job_cards(self.drawn, self.trade, course=self.planned.course)


def plan_ahead(
    known: Known, trade: Trade, *, n: int, booked: Mapping[dt.date, int] = NOTHING_BOOKED,
    old: RunningOrder | None = None, tell: Callable[[float, float], None] | None = None,
    stop: Callable[[], bool] | None = None,
) -> Ahead:
    """Plan, and play the plan through `n` futures.

    `old`: the running order before what happened last; it is mended and kept, and nothing better is searched for.
    `booked`: minutes of each evening that machines with an earlier turn take. Raises AnswerError.
    """
    former = Plan(stages=old.stages, order=old.order) if old is not None else None
    futures, planned, drawn = planned_futures(
        known, trade, n=n, booked=booked, old=former, quick=former is not None, tell=tell, stop=stop
    )
    return Ahead(futures=futures, planned=planned, drawn=drawn, trade=trade)
