"""What to pay at most, and what any other price would do."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts import entry
from wreckwright.acts.tried import Tried, try_price
from wreckwright.errors import EntryError
from wreckwright.papers.figures import price_figure
from wreckwright.papers.words import money, percent
from wreckwright.web.facts_fields import where_to_say
from wreckwright.web.machine_view import look_at, settled
from wreckwright.web.render import render

if TYPE_CHECKING:
    from wreckwright.answers.types import Bid, BidPoint

TABLE_ROWS = 12


def bid(request: Request) -> Response:
    """The price to walk away at; with `price` in the query also what that price would do."""
    page, _ = look_at(request, request.path_params["uid"])
    answers, typed = page.reckoned.answers, request.query_params.get("price", "").strip()
    context: dict[str, Any] = {
        "page": page,
        "head": page.head,
        "reckoned": page.reckoned,
        "asks_again": not settled(page.reckoned),
        "typed": typed,
        "error": None,
        "tried": None,
    }
    if answers is None:
        return render(request, "bid.html", **context)
    answer = answers.bid
    tried: Tried | None = None
    if typed:
        try:
            price_minor = entry.money_minor(typed, answer.currency, "price")
            tried = try_price(answer, price_minor) if price_minor is not None else None
        except EntryError as error:
            context["error"] = error
    context |= {
        "bid": answer,
        "why": why_words(answer),
        "tried": tried,
        "tried_words": tried_words(answer, tried) if tried else "",
        "figure": price_figure(answer, tried=tried.point if tried else None),
        "terms": terms(answer),
        "rows": rows_of(answer),
        "rests_on": tuple((guess, *where_to_say(guess, page.head.uid)) for guess in answer.rests_on),
    }
    return render(request, "bid.html", 422 if context["error"] else 200, **context)


def tried_words(answer: Bid, tried: Tried) -> str:
    """What the price that was tried would do, in sentences."""
    point, currency = tried.point, answer.currency
    all_in = "" if point.all_in_minor == point.price_minor else f", {money(point.all_in_minor, currency)} all in,"
    pay = (
        ""
        if point.pay_per_hour_minor is None
        else f" and an own hour brings {money(point.pay_per_hour_minor, currency)} on average"
    )
    side = "That is dearer than the price to walk away at." if tried.too_dear else "That is within what you accept."
    if answer.walk_away_minor is None:
        side = "No price is within what you accept, if this plan is carried through."
    read = "" if tried.reckoned else " It is read between the two nearest prices that were reckoned with."
    return (
        f"At {money(point.price_minor, currency)}{all_in} it ends in a loss in {percent(point.loss_chance)} of the "
        f"futures{pay}. {side}{read}"
    )


def why_words(answer: Bid) -> str:
    """The reasons, without the sentence that stands over them."""
    return answer.why.removeprefix(answer.words.rstrip(".")).lstrip(":; ")


def terms(answer: Bid) -> tuple[tuple[str, str], ...]:
    """What the owner wishes, and the most to pay for each wish alone."""

    def most(price_minor: int | None) -> str:
        return "at no price" if price_minor is None else f"up to {money(price_minor, answer.currency)}"

    loss = f"A loss in at most {percent(answer.accepted_loss_chance)}"
    rows = [(loss, most(answer.price_for_loss_minor))]
    if answer.hour_value_minor:
        charged = f"The same, if each own hour counts as {money(answer.hour_value_minor, answer.currency)} spent"
        rows.append((charged, most(answer.price_for_loss_hours_paid_minor)))
    wanted = (
        f"{money(answer.wanted_pay_minor, answer.currency)} left for each own hour, on average"
        if answer.wanted_pay_minor
        else "No loss on average"
    )
    rows.append((wanted, most(answer.price_for_pay_minor)))
    return tuple(rows)


def rows_of(answer: Bid) -> tuple[tuple[BidPoint, str], ...]:
    """Some points of the curve, dearest last, those that matter marked in words."""
    marked: dict[int, str] = {}
    if answer.at_price is not None:
        marked[answer.at_price.price_minor] = "paid" if answer.bought else "asked"
    if answer.at_walk_away is not None:
        marked[answer.at_walk_away.price_minor] = "walk away"
    every = max(1, -(-len(answer.curve) // TABLE_ROWS))
    chosen = {point.price_minor: point for point in answer.curve[::every]}
    chosen |= {point.price_minor: point for point in (answer.at_price, answer.at_walk_away) if point is not None}
    return tuple((chosen[price], marked.get(price, "")) for price in sorted(chosen))


routes: list[BaseRoute] = [Route("/machine/{uid}/bid", bid, methods=["GET"])]
