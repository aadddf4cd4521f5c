"""Work on a machine: what is ahead, what can be done tonight, one card; and what is told of it at the bench."""

from __future__ import annotations

import datetime as dt

import click

from wreckwright.cli.asking import asks, question
from wreckwright.cli.keeping import found
from wreckwright.cli.options import (
    AS_OF,
    JSON,
    MACHINE,
    N_FUTURES,
    PACK,
    all_of,
    memory_place,
    place,
    say,
    say_json,
    sent,
)

SNAG_KINDS = ("snapped", "does-not-fit", "arrived-wrong", "missing", "fails-test", "took-longer", "gate-failed")
REMEDIES = ("repair", "genuine", "pattern", "used", "modify", "leave")
USUAL_HOURS = 2.0
KEY = click.argument("key", metavar="KEY")
MINUTES = click.option(
    "--minutes", metavar="N", type=click.IntRange(0, 100_000),
    help="How long this sitting took. Without it the clock says, if it was started.",
)


def bench(machine: str) -> str:
    """The machine in the memory that is meant."""
    from wreckwright.acts.tell_work import in_memory

    return in_memory(found(machine))


def tell(said: str) -> None:
    """What came of it, as a sentence."""
    from wreckwright.papers.words import sentence, wrapped

    say(wrapped(sentence(said)))


@click.command("plan")
@asks(N_FUTURES)
def plan_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int
) -> None:
    """All work on the calendar, and what the end waits for.

    The running order. Each piece of work with its key, which the other commands take.

    \b
    Example: wreckwright plan Sorrel
    """
    from wreckwright.acts import ask
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_plan import order_lines

    with Progress() as tell:
        reply = ask.running_order(question(machine, as_of, packs, n_futures), tell=tell)
    say_json(reply.answer) if as_json else say(order_lines(reply.answer))


@click.command("tonight")
@asks(
    click.option(
        "--hours", metavar="H", type=click.FloatRange(0.0, 24.0), default=USUAL_HOURS, show_default=True,
        help="How many there are.",
    ),
    N_FUTURES,
)
def tonight_command(
    machine: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], hours: float, n_futures: int
) -> None:
    """What can usefully be done in the hours there are tonight?

    \b
    Example: wreckwright tonight Sorrel --hours 1.5
    """
    from wreckwright.acts.ask_work import tonight_for
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_plan import tonight_lines

    with Progress() as tell:
        reply = tonight_for(question(machine, as_of, packs, n_futures), hours=hours, tell=tell)
    say_json(reply.answer) if as_json else say(tonight_lines(reply.answer))


@click.command("card")
@all_of(MACHINE, KEY, JSON, AS_OF, N_FUTURES, PACK)
def card_command(
    machine: str, key: str, as_json: bool, as_of: dt.datetime | None, packs: tuple[str, ...], n_futures: int
) -> None:
    """Everything for one piece of work, as it is done.

    Under five heads: before you touch, off, while it is open, back on, prove it.

    \b
    Example: wreckwright card Sorrel front_wheel
    """
    from wreckwright.acts.ask_work import card_for
    from wreckwright.cli.progress import Progress
    from wreckwright.cli.say_plan import card_lines

    with Progress() as tell:
        reply = card_for(question(machine, as_of, packs, n_futures), key, tell=tell)
    say_json(reply.answer) if as_json else say(card_lines(reply.answer))


@click.command("start")
@all_of(MACHINE, KEY)
def start_command(machine: str, key: str) -> None:
    """Somebody is at this piece of work from now on.

    Whatever was being worked on, on any machine, is left for later: there is one pair of hands.

    \b
    Example: wreckwright start Sorrel front_wheel
    """
    from wreckwright.acts.doing import start

    tell(start(place(), bench(machine), key, sent()).said)


@click.command("stop")
@all_of(MACHINE, KEY, MINUTES)
def stop_command(machine: str, key: str, minutes: int | None) -> None:
    """Leave a piece of work for later.

    \b
    Example: wreckwright stop Sorrel front_wheel --minutes 40
    """
    from wreckwright.acts.doing import stop

    tell(stop(place(), bench(machine), key, minutes, sent()).said)


@click.command("done")
@all_of(
    MACHINE, KEY, MINUTES,
    click.option("--closed-up", is_flag=True, help="What was off for it is on again."),
)
def done_command(machine: str, key: str, minutes: int | None, closed_up: bool) -> None:
    """A piece of work is done.

    Its parts are fitted then, and its covers are remembered as off unless they are said to be on again.

    \b
    Example: wreckwright done Sorrel front_wheel --minutes 75 --closed-up
    """
    from wreckwright.acts.doing import done

    tell(done(place(), bench(machine), key, minutes, sent(), closed_up=closed_up).said)


@click.command("snag")
@all_of(
    MACHINE, KEY,
    click.argument("kind", metavar="KIND", type=click.Choice(SNAG_KINDS)),
    click.option(
        "--piece", metavar="WORDS", default="",
        help="What snapped or is missing; of a wrong part the handle of its line.",
    ),
    click.option("--note", metavar="WORDS", default="", help="Whatever else is to be said of it."),
    click.option(
        "--minutes", metavar="N", type=click.IntRange(1, 50_000),
        help="Of what takes longer: how many are still to do.",
    ),
)
def snag_command(machine: str, key: str, kind: str, piece: str, note: str, minutes: int | None) -> None:
    """Something went wrong with a piece of work.

    KIND is snapped, does-not-fit, arrived-wrong, missing, fails-test, took-longer, or of a question gate-failed. What
    can be done about it is listed with price and wait; `remedy` chooses.

    \b
    Example: wreckwright snag Sorrel lever_clutch:carry_over snapped --piece bush
    """
    from wreckwright.acts.snags import remedies_on_offer, snag
    from wreckwright.cli.say_plan import offer_lines

    here, uid = place(), bench(machine)
    told = snag(here, uid, key, kind.replace("-", "_"), sent(), piece=piece, note=note, minutes=minutes)
    offers = remedies_on_offer(here, uid, told.handle) if told.handle else ()
    tell(told.said)
    if offers:
        say(offer_lines(offers, machine))


@click.command("remedy")
@all_of(
    MACHINE,
    click.argument("component", metavar="COMPONENT"),
    click.argument("remedy", metavar="REMEDY", type=click.Choice(REMEDIES)),
)
def remedy_command(machine: str, component: str, remedy: str) -> None:
    """How something is put right.

    COMPONENT is its id, or the handle of a part line. REMEDY is repair, genuine, pattern, used, modify or leave.

    \b
    Example: wreckwright remedy Sorrel lever_clutch used
    """
    from wreckwright.acts.snags import choose_remedy

    tell(choose_remedy(place(), bench(machine), component, remedy, sent()).said)


@click.command("loose")
@all_of(
    MACHINE,
    click.argument("words", metavar="[WORDS]...", nargs=-1),
    click.option("--bag", is_flag=True, help="It is a bag of screws."),
    click.option("--rags", metavar="N", type=click.IntRange(1, 1000), help="Rags were put into a port; how many."),
    click.option("--at", "work", metavar="KEY", default="", help="What was being done."),
    click.option("--seen-to", metavar="HANDLE", help="This one is seen to: its handle, or a word that only it has."),
    JSON,
)
def loose_command(
    machine: str, words: tuple[str, ...], bag: bool, rags: int | None, work: str, seen_to: str | None, as_json: bool
) -> None:
    """Loose ends: what must not be forgotten.

    With WORDS one is written down: something left finger-tight, or a bag of screws, or rags. Without, those that are
    not seen to are listed.

    \b
    Examples: wreckwright loose Sorrel left axle nut finger-tight
              wreckwright loose Sorrel --seen-to axle
    """
    from wreckwright.acts.ask import read_machine
    from wreckwright.acts.loose_ends import close, find_loose, leave
    from wreckwright.acts.tell_work import loose_list
    from wreckwright.cli.say_plan import loose_lines
    from wreckwright.errors import UsageError

    told_some = bool(words or bag or rags)
    if sum((told_some, seen_to is not None)) > 1 or (bag and rags):
        raise UsageError(
            "more than one thing is said of loose ends", allowed="one that is left, or one that is seen to",
            do="call it once for each",
        )
    here, uid = memory_place(), bench(machine)
    if seen_to is not None:
        tell(close(here, uid, find_loose(read_machine(here, uid), seen_to), sent()).said)
    elif told_some:
        what = "bag" if bag else "rags" if rags else "loose"
        tell(leave(here, uid, what, ' '.join(words), work, rags or 1, (), sent()).said)
    else:
        listed = loose_list(here, uid)
        say_json(listed) if as_json else say(loose_lines(listed.loose))


@click.command("hands")
@all_of(
    click.option(
        "--week", metavar="TIMES", default="",
        help="Minutes planned on each weekday, Monday first: seven times between commas, such as 90,0,2h,0,0,5h,0.",
    ),
    click.option(
        "--off", metavar="DAYS", multiple=True, help="Days off; a stretch as '2026-12-24 to 2027-01-02'."
    ),
    click.option("--on", metavar="DAYS", multiple=True, help="No days off any more."),
    click.option(
        "--evening", "evenings", metavar="DAY MINUTES", type=(str, str), multiple=True,
        help="A single day with other minutes; `usual`: as its weekday again.",
    ),
    click.option("--helper", metavar="DAYS", multiple=True, help="Somebody helps on these days."),
    click.option("--alone", metavar="DAYS", multiple=True, help="Nobody helps on these days after all."),
    click.option(
        "--turn", metavar="MACHINE PLACE", type=(str, int),
        help="Put a machine at this place in the line; 1 goes first.",
    ),
    JSON,
)
def hands_command(
    week: str, off: tuple[str, ...], on: tuple[str, ...], evenings: tuple[tuple[str, str], ...],
    helper: tuple[str, ...], alone: tuple[str, ...], turn: tuple[str, int] | None, as_json: bool,
) -> None:
    """When are the hands there, and which machine goes first?

    One person works on all machines that are bought: what is said here goes into the calendars of all of them. Without
    any option it is only shown.

    \b
    Example: wreckwright hands --off "2026-12-24 to 2026-12-26" --turn Sorrel 1
    """
    from wreckwright.acts.hands import take_turn
    from wreckwright.acts.tell_work import hands, tell_hands
    from wreckwright.cli.say_plan import hands_lines

    here = memory_place()
    said: list[str] = []
    if week or off or on or evenings or helper or alone:
        told = tell_hands(here, sent(), week=week, off=off, on=on, evenings=evenings, helper=helper, alone=alone)
        said.append(told.said)
    if turn is not None:
        said.append(take_turn(here, bench(turn[0]), turn[1], sent()).said)
    if said and not as_json:
        for words in said:
            tell(words)
        return
    page = hands(here)
    say_json(page) if as_json else say(hands_lines(page))
