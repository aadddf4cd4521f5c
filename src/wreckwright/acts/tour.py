"""All answers for one machine, read from one drawing of its futures."""

from __future__ import annotations

from collections.abc import Callable

from wreckwright.acts import ask
from wreckwright.acts.shown import shown
from wreckwright.acts.views import Shown, View
from wreckwright.answers.types import Bid, FitList, Foresight, Verdict


class Tour(View, frozen=True, kw_only=True):
    """All answers for one machine."""

    shown: Shown
    foresight: Foresight
    verdict: Verdict | None
    """None for a lot that has not been bought."""
    bid: Bid | None
    """None for a machine that has been bought."""
    fit: FitList


def tour(question: ask.Question, *, tell: Callable[[str], None]) -> Tour:
    """Foresight, then verdict or bid, and the fit-to-ride list."""
    from wreckwright.answers.bid import bid
    from wreckwright.answers.foresight import foresight
    from wreckwright.answers.verdict import verdict

    opened = ask.open_machine(question)
    futures = ask.futures_of(opened, n_futures=question.n_futures, tell=tell)
    return Tour(
        shown=shown(opened.known, opened.trade),
        foresight=foresight(futures),
        verdict=verdict(futures) if futures.bought else None,
        bid=None if futures.bought else bid(futures),
        fit=ask.fit_of(opened, damage=futures.damage),
    )
