"""What is ahead if this plan is kept: whether and when it finishes, what it takes, what it leaves."""

from __future__ import annotations

import math

import msgspec
import numpy as np
import numpy.typing as npt

from wreckwright.answers.spread import (
    chance_of,
    mean_se,
    money_bins,
    money_spread,
    quantile_se,
    ratio_se,
    variance_share,
)
from wreckwright.answers.types import (
    ChanceEnd,
    DayQuantile,
    DaySpread,
    Driver,
    FinishPoint,
    Foresight,
    HoursSpread,
    PayPerHour,
    Suspect,
    Waiting,
    WaitKind,
)
from wreckwright.answers.words import (
    beyond,
    date_after,
    driver_words,
    in_ten,
    in_ten_futures,
    listed,
    money,
    rests_on,
    share,
)
from wreckwright.futures.ledger import Ledger, fee_minor, settle
from wreckwright.futures.rebuild import FINISHED, GATE_NO, NEVER_CAME, OFF_CALENDAR, STOPPED_BY_RULE
from wreckwright.futures.scene import Futures

SUSPECTS_FROM, FOUND_FROM = 0.05, 0.9
"""Chances of damage between these are listed as suspects; above, the component is as good as found bad."""
SUSPECTS_SHOWN = 10
WAITING_SHOWN = 10
CURVE_POINTS = 40


def foresight(futures: Futures) -> Foresight:
    """Read the foresight off `futures`.

    Quantiles of days are given that nothing ends the project for good; futures still at it when the calendar ends count
    as later than everything on it. Money is per docs/decisions/verdict.md.
    """
    played, market = futures.played, futures.market
    ledger = settle(futures)
    finished = played.status == FINISHED
    still_at_it = played.status == OFF_CALENDAR
    calendar_days = int(futures.rebuild.cumulative_minutes.shape[0]) - 1
    finish = finish_days(futures)
    sold = _days(futures, ledger.sold_day, finished, still_at_it, calendar_days)
    hours = ledger.minutes / 60.0
    net = money_spread(ledger.whole_net_minor)
    spend = money_spread(played.out_minor)
    loss = chance_of(ledger.whole_net_minor < 0)
    finishes = chance_of(finished)
    drivers_of_net = _drivers(futures, ledger.whole_net_minor, np.ones_like(finished))
    pay = _pay(ledger)
    price_free = ledger.price_minor is None and not futures.bought
    (p50_hours, _), (p80_hours, _), (mean_hours, se_hours) = (
        quantile_se(hours, 0.5), quantile_se(hours, 0.8), mean_se(hours)
    )
    answer = Foresight(
        nickname=futures.nickname, as_of=futures.as_of, n_futures=played.status.shape[0], currency=futures.currency,
        bought=futures.bought, price_minor=futures.price_minor, rests_on=rests_on(futures), why="",
        notes=_notes(futures, price_free), price_free=price_free,
        finishes=finishes,
        ends_otherwise=_ends(futures),
        finish=finish,
        sold=sold,
        spend=spend,
        largest_cash_out=money_spread(played.out_minor + ledger.way.holding_minor + _entry(futures)),
        hours=HoursSpread(
            p50_hours=p50_hours, p80_hours=p80_hours, mean_hours=mean_hours, mean_se_hours=se_hours
        ),
        net_from_here=money_spread(ledger.net_from_here_minor),
        net=net,
        sunk_minor=market.sunk_minor,
        pay_per_hour=pay,
        loss=loss,
        drivers_of_finish=_drivers(futures, played.day, finished),
        drivers_of_net=drivers_of_net,
        waiting=_waiting(futures),
        suspects=_suspects({c: p for c, p in futures.damage.items() if c not in futures.found_bad}),
        what_happened=_suspects(dict(futures.scenario), found_from=1.1),
        unnamed_damage_minor=futures.lump_minor,
        finish_curve=_curve(futures, played.day[finished]),
        net_bins=money_bins(ledger.whole_net_minor),
    )
    return _with_why(answer)


def finish_days(futures: Futures) -> DaySpread | None:
    """Day of the end, given that nothing ends it for good; futures still at it when the calendar ends count as later.
    None: no future finishes."""
    played = futures.played
    calendar_days = int(futures.rebuild.cumulative_minutes.shape[0]) - 1
    return _days(futures, played.day, played.status == FINISHED, played.status == OFF_CALENDAR, calendar_days)


def _days(
    futures: Futures, day: npt.NDArray[np.int64] | npt.NDArray[np.int32], finished: npt.NDArray[np.bool_],
    still_at_it: npt.NDArray[np.bool_], calendar_days: int,
) -> DaySpread | None:
    if not finished.any():
        return None
    days = day[finished].astype(np.float64)
    # Those still at it are later than anything that finished; how much later, nobody knows.
    days = np.concatenate([days, np.full(int(still_at_it.sum()), math.inf)])
    found = []
    for p in (0.5, 0.8):
        value, _ = quantile_se(days, p)
        if math.isinf(value):
            found.append(DayQuantile(days=None, date=None, days_se=None, words=beyond(calendar_days)))
            continue
        _, se = quantile_se(np.minimum(days, float(day[finished].max()) + 1.0), p)
        date = date_after(futures.as_of, int(value))
        found.append(DayQuantile(days=int(value), date=date, days_se=se, words=date))
    return DaySpread(p50=found[0], p80=found[1])


def _entry(futures: Futures) -> int:
    """What a lot with a price takes before anything else."""
    if futures.bought:
        return 0
    price = futures.price_minor
    return futures.market.entry_fixed_minor + (0 if price is None else price + fee_minor(price, futures.market))


def _pay(ledger: Ledger) -> PayPerHour:
    hours = ledger.minutes / 60.0
    if hours.mean() <= 0.0:
        return PayPerHour(mean_minor=None, mean_se_minor=None, p20_minor=None, p50_minor=None, p80_minor=None)
    mean, se = ratio_se(ledger.whole_net_minor, hours)
    worked = hours > 0.0
    each = ledger.whole_net_minor[worked] / hours[worked]
    p20, p50, p80 = (round(quantile_se(each, p)[0]) for p in (0.2, 0.5, 0.8))
    return PayPerHour(
        mean_minor=round(mean), mean_se_minor=math.ceil(se), p20_minor=p20, p50_minor=p50, p80_minor=p80
    )


def _ends(futures: Futures) -> tuple[ChanceEnd, ...]:
    played, rebuild = futures.played, futures.rebuild
    ends = []
    for status in (GATE_NO, NEVER_CAME, STOPPED_BY_RULE):
        rows = played.status == status
        for reason in np.unique(played.reason[rows]):
            here = chance_of(rows & (played.reason == reason))
            ends.append(ChanceEnd(how=_how(futures, status, int(reason)), chance=here.chance, chance_se=here.chance_se))
    late = chance_of(played.status == OFF_CALENDAR)
    if late.chance > 0.0:
        calendar_days = int(rebuild.cumulative_minutes.shape[0]) - 1
        how = f"takes {beyond(calendar_days)}, and there the calendar ends"
        ends.append(ChanceEnd(how=how, chance=late.chance, chance_se=late.chance_se))
    return tuple(sorted(ends, key=lambda end: (-end.chance, end.how)))


def _how(futures: Futures, status: int, reason: int) -> str:
    rebuild = futures.rebuild
    if status == GATE_NO:
        bench = reason < rebuild.n_stages
        gate = rebuild.bench_gates[reason].name if bench else rebuild.outside_gates[reason - rebuild.n_stages].name
        return f"no to '{gate}', and no way round left"
    if status == NEVER_CAME:
        return f"never supplied: {rebuild.lines[reason].name}"
    return f"stopped by rule {stop_moment(futures, reason)}"


def stop_moment(futures: Futures, epoch: int) -> str:
    """A decision epoch in words, fit to follow `stopped` or `stop`."""
    stage, kind = divmod(epoch, 3)
    gate = futures.rebuild.bench_gates[stage].name
    return (f"on a big find before '{gate}'", f"on a no to '{gate}'", f"in spite of a yes to '{gate}'")[kind]


def _drivers(
    futures: Futures, result: npt.NDArray[np.int64] | npt.NDArray[np.int32], rows: npt.NDArray[np.bool_]
) -> tuple[Driver, ...]:
    if int(rows.sum()) < 2:
        return ()
    found = []
    for name, values in futures.drivers.items():
        part, se = variance_share(values[rows], result[rows])
        found.append(Driver(name=name, share=part, share_se=se))
    return tuple(sorted(found, key=lambda driver: (-driver.share, driver.name)))


def _waiting(futures: Futures) -> tuple[Waiting, ...]:
    rebuild = futures.rebuild
    means = futures.played.waited_minutes.mean(axis=0)
    total = float(means.sum())
    if total <= 0.0:
        return ()
    outside_from = means.shape[0] - len(rebuild.outside_gates)
    hours: dict[tuple[str, WaitKind], float] = {}
    key: tuple[str, WaitKind]
    for column in np.flatnonzero(means > 0.0):
        index = int(column)
        if index >= outside_from:
            key = (rebuild.outside_gates[index - outside_from].name, "outside_gate")
        elif index < len(rebuild.slots):
            slot = rebuild.slots[index]
            names = tuple(rebuild.lines[line].name for line in slot.lines)
            key = (listed(names), "part") if names else (slot.name, "cure_or_way_round")
        else:
            key = ("covers", "cure_or_way_round")
        hours[key] = hours.get(key, 0.0) + float(means[index]) / 60.0
    found = [
        Waiting(what=what, kind=kind, hours_mean=value, share=value * 60.0 / total)
        for (what, kind), value in hours.items()
    ]
    return tuple(sorted(found, key=lambda w: (-w.hours_mean, w.what)))[:WAITING_SHOWN]


def _suspects(chances: dict[str, float], *, found_from: float = FOUND_FROM) -> tuple[Suspect, ...]:
    listed_ones = [(name, p) for name, p in chances.items() if SUSPECTS_FROM <= p < found_from]
    listed_ones.sort(key=lambda pair: (-pair[1], pair[0]))
    return tuple(
        Suspect(component=name, chance=p, words=f"{in_ten(min(1.0, p))}, trade judgement")
        for name, p in listed_ones[:SUSPECTS_SHOWN]
    )


def _curve(futures: Futures, days: npt.NDArray[np.int32]) -> tuple[FinishPoint, ...]:
    if not days.size:
        return ()
    n = futures.played.status.shape[0]
    points = np.unique([int(quantile_se(days, (i + 1) / CURVE_POINTS)[0]) for i in range(CURVE_POINTS)])
    return tuple(
        FinishPoint(days=int(d), date=date_after(futures.as_of, int(d)), share=float((days <= d).sum() / n))
        for d in points
    )


def _notes(futures: Futures, price_free: bool) -> tuple[str, ...]:
    notes = ["It holds if this plan is kept; as one would change it with better knowledge, it is a little gloomy."]
    if price_free:
        notes.append("No price is known, so nothing is reckoned for it: net, loss and pay are as of a gift.")
    if futures.policy.stop:
        notes.append("The plan stops by rule where carrying on has become worth less than stopping.")
    return tuple(notes)


def _with_why(answer: Foresight) -> Foresight:
    def sum_of(minor: int) -> str:
        return money(minor, answer.currency)

    if answer.finish is None:
        first = "It finishes in none of the futures"
        if answer.ends_otherwise:
            first += f" (mostly: {answer.ends_otherwise[0].how})"
    else:
        half, most = answer.finish.p50, answer.finish.p80
        if half.days is None:
            first = (
                f"It finishes in {in_ten_futures(answer.finishes.chance)}; at these hours it mostly takes {half.words}"
            )
        else:
            most_by = f"in {most.words}" if most.days is None else f"by {most.words}"
            first = (
                f"It finishes in {in_ten_futures(answer.finishes.chance)}, then half of the time by {half.words},"
                f" 8 times in 10 {most_by}"
            )
    pay = answer.pay_per_hour.mean_minor
    whole = (
        f"the whole project nets {sum_of(answer.net.mean_minor)} on average"
        + ("" if pay is None else f", {sum_of(pay)} for an own hour")
        + (", nothing reckoned for the price" if answer.price_free else "")
        + f", and ends in a loss in {in_ten_futures(answer.loss.chance)}"
    )
    money_words = (
        f"from here it takes {sum_of(answer.spend.p50_minor)} (8 times in 10 at most {sum_of(answer.spend.p80_minor)})"
        f" and {round(answer.hours.mean_hours)} own hours"
    )
    why = f"{first}; {money_words}; {whole}"
    if answer.drivers_of_net and answer.drivers_of_net[0].share > 2.0 * answer.drivers_of_net[0].share_se:
        top = answer.drivers_of_net[0]
        why += f"; what moves that most is {driver_words(top.name)} ({share(top.share)} of the spread)"
    return msgspec.structs.replace(answer, why=why + ".")
