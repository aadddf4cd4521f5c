"""The words for the answers: first why, then the figures, then what they rest on."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING

from wreckwright.cli.lines import bullets, heading, notes_and_guesses, section, sunk_row, table
from wreckwright.papers.said import (
    DRIVERS_SHOWN,
    FIT_STATES,
    by,
    cost_words,
    driver_items,
    end_items,
    fit_words,
    in_futures,
    name_of,
    spread_words,
    stop_words,
)
from wreckwright.papers.words import hours, money, percent, row, sentence, upper_first, wrapped

if TYPE_CHECKING:
    from wreckwright.acts.views import Reply
    from wreckwright.answers.types import (
        Bid,
        BidPoint,
        FitEntry,
        FitList,
        Foresight,
        MoneyAnswer,
        Reckoning,
        Suspect,
        Verdict,
    )

SUSPECTS_SHOWN, CURVE_SHOWN = 6, 9


def sum_of(answer: MoneyAnswer) -> Callable[[int | None], str]:
    return lambda amount_minor: "-" if amount_minor is None else money(amount_minor, of=answer.currency)


def head(answer: MoneyAnswer, what: str) -> list[str]:
    return [
        *heading(answer.nickname, what, answer.as_of, f"{answer.n_futures:,} futures", f"sums in {answer.currency}"),
        *wrapped(answer.why),
        "",
    ]


def suspect_items(suspects: Sequence[Suspect], names: Mapping[str, str]) -> list[str]:
    return [f"{name_of(one, names)}: {one.words}" for one in suspects[:SUSPECTS_SHOWN]]


def foresight_lines(reply: Reply[Foresight]) -> list[str]:
    answer = reply.answer
    say = sum_of(answer)
    pay = answer.pay_per_hour
    lines = head(answer, "foresight")
    lines += row("Finished", in_futures(answer.finishes))
    if answer.finish:
        lines += row("  if so, when", f"half {by(answer.finish.p50)}; 8 in 10 {by(answer.finish.p80)}")
    if answer.sold:
        lines += row("  money in hand", f"half {by(answer.sold.p50)}; 8 in 10 {by(answer.sold.p80)}")
    lines += row(
        "Own hours", f"half below {hours(answer.hours.p50_hours)}; 8 in 10 below {hours(answer.hours.p80_hours)}"
    )
    lines += row("Still to spend", cost_words(answer.spend, say))
    lines += row("Purse at its deepest", cost_words(answer.largest_cash_out, say))
    lines += row("Left over from here", spread_words(answer.net_from_here, say))
    lines += row(
        "Left over in all",
        spread_words(answer.net, say) + (" (nothing taken off for the price)" if answer.price_free else ""),
    )
    lines += row(*sunk_row(answer.sunk_minor, say))
    if pay.mean_minor is not None:
        lines += row(
            "Pay for an hour",
            f"{say(pay.mean_minor)} on average; 8 in 10 above {say(pay.p20_minor)}, 2 in 10 above {say(pay.p80_minor)}",
        )
    lines += row("A loss", in_futures(answer.loss))
    return [
        *lines,
        *section("Ends otherwise", bullets(end_items(answer.ends_otherwise))),
        *section("What moves the date", bullets(driver_items(answer.drivers_of_finish))),
        *section("What moves the money", bullets(driver_items(answer.drivers_of_net))),
        *section(
            "Evenings lost waiting",
            bullets(
                f"{hours(wait.hours_mean)}: {wait.what}"
                for wait in answer.waiting[:DRIVERS_SHOWN]
                if wait.hours_mean >= 0.5
            ),
        ),
        *section("What may have happened", bullets(suspect_items(answer.what_happened, reply.names))),
        *section("May be damaged, not yet seen", bullets(suspect_items(answer.suspects, reply.names))),
        *notes_and_guesses(answer.notes, answer.rests_on),
    ]


def verdict_lines(reply: Reply[Verdict]) -> list[str]:
    answer = reply.answer
    say = sum_of(answer)
    lines = head(answer, "verdict")
    lines += reckoning_lines(answer.reckoning, say)
    if answer.hours_free.hour_value_minor != answer.reckoning.hour_value_minor:
        lines += ["", *reckoning_lines(answer.hours_free, say)]
    if answer.sunk_minor > 0:
        lines += ["", *wrapped(f"Gone already, and in none of these: {say(answer.sunk_minor)}.")]
    elif answer.sunk_minor < 0:
        lines += ["", *wrapped(f"Come in already, and in none of these: {say(-answer.sunk_minor)}.")]
    stop = answer.reckoning.right_to_stop
    if stop.used:
        lines += [
            "",
            *wrapped(
                f"Carrying on has in it the right to stop later, worth {say(stop.worth_minor)}; it is used in "
                f"{percent(stop.stops_chance)} of the futures:"
            ),
        ]
        lines += bullets(stop_words(point, say) for point in stop.points if point.stop_chance > 0)
    return [
        *lines,
        *section("What would change it", bullets(sentence(flip.words) for flip in answer.flips)),
        *section("Leans on", bullets(sentence(one.words) for one in answer.leans_on)),
        *section(
            "Parting it out means",
            bullets([sentence(answer.part_out_terms.words)]),
        ),
        *notes_and_guesses(answer.notes, answer.rests_on),
    ]


def reckoning_lines(reckoning: Reckoning, say: Callable[[int | None], str]) -> list[str]:
    hour = f"an own hour at {say(reckoning.hour_value_minor)}" if reckoning.hour_value_minor else "own hours free"
    return table(
        [f"From here, {hour}", "worth", "+/- other draws", "cash", "hours", "days"],
        [
            [
                option.words,
                say(option.worth_minor),
                say(2 * option.worth_se_minor),
                say(option.cash_minor),
                f"{option.hours:.0f}",
                f"{option.days:.0f}",
            ]
            for option in reckoning.options
        ],
    )


def bid_lines(reply: Reply[Bid]) -> list[str]:
    answer = reply.answer
    say = sum_of(answer)
    lines = head(answer, "bid")

    def price(most_minor: int | None) -> str:
        return "no price" if most_minor is None else say(most_minor)

    never = answer.walk_away_minor is None
    otherwise = any(way.price_for_loss_minor for way in answer.other_ways)
    at_any = "at any price, to carry this plan through" if otherwise else "at any price"
    lines += row("Walk away", at_any if never else f"above {say(answer.walk_away_minor)}", at=34)
    loss = f"By a loss in at most {percent(answer.accepted_loss_chance)}"
    within = (
        ""
        if answer.price_for_loss_low_minor is None or answer.price_for_loss_high_minor is None
        else (f" (other draws: {say(answer.price_for_loss_low_minor)} to {say(answer.price_for_loss_high_minor)})")
    )
    lines += row(loss, price(answer.price_for_loss_minor) + within, at=34)
    if answer.hour_value_minor:
        charged = f"  own hour charged at {say(answer.hour_value_minor)}"
        lines += row(charged, price(answer.price_for_loss_hours_paid_minor), at=34)
    wanted = (
        f"By {say(answer.wanted_pay_minor)} wanted for an hour" if answer.wanted_pay_minor else "By no loss on average"
    )
    lines += row(wanted, price(answer.price_for_pay_minor), at=34)
    points = list(answer.curve[:: max(1, -(-len(answer.curve) // CURVE_SHOWN))])
    marked = {answer.at_walk_away: "walk away", answer.at_price: "paid" if answer.bought else "asked"}
    marked.pop(None, None)
    points = sorted({*points, *(point for point in marked if point)}, key=lambda point: point.price_minor)
    return [
        *lines,
        "",
        *table(
            ["Price", "all in", "chance of a loss", "left over", "for an hour", ""],
            [point_cells(point, say, marked.get(point, "")) for point in points],
        ),
        *section("If something else is done with it, at most", bullets(other_ways(answer, say))),
        *notes_and_guesses(answer.notes, answer.rests_on),
    ]


def other_ways(answer: Bid, say: Callable[[int | None], str]) -> list[str]:
    prices = ((way.words, way.price_for_loss_minor) for way in answer.other_ways)
    return [f"{words}: {'not at any price' if price is None else say(price)}" for words, price in prices]


def point_cells(point: BidPoint, say: Callable[[int | None], str], mark: str) -> list[str]:
    return [
        say(point.price_minor),
        say(point.all_in_minor),
        percent(point.loss_chance),
        say(point.net_mean_minor),
        say(point.pay_per_hour_minor),
        mark,
    ]


def fit_lines(reply: Reply[FitList]) -> list[str]:
    answer = reply.answer
    lines = [*heading(answer.nickname, "fit-to-ride list", answer.as_of), *wrapped(answer.why)]
    for state in FIT_STATES:
        entries = [entry for entry in answer.items if entry.state == state]
        lines += section(upper_first(state), [line for entry in entries for line in entry_lines(entry, reply.names)])
    if answer.shut:
        lines += ["", *wrapped(f"Shut until all of it is proved by hand: {', '.join(answer.shut)}.")]
    return [*lines, *notes_and_guesses(answer.notes, answer.rests_on)]


def entry_lines(entry: FitEntry, names: Mapping[str, str]) -> list[str]:
    said = fit_words(entry, names)
    lines = wrapped(f"- {said.name}{f': {said.reason}' if said.reason else ''}", indent=2, hang=4)
    for line in said.lines:
        lines += wrapped(line, indent=4)
    if said.to_prove:
        lines += wrapped(f"To prove it: {said.to_prove}", indent=4)
    return lines
