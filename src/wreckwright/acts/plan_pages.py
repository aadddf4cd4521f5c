"""The read models of doing: tonight, the running order, job cards, the hands. They read kept answers; nothing is
reckoned here, and no numeric library is loaded."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

from wreckwright.acts import entry
from wreckwright.acts.batches import STATE_WORDS
from wreckwright.acts.checks import trade_for
from wreckwright.acts.daytime import daytime
from wreckwright.acts.edit_job import job_typed
from wreckwright.acts.errands import WANTED_WORDS
from wreckwright.acts.facts import WEEK
from wreckwright.acts.finding_form import component_words
from wreckwright.acts.hands import WEEKDAYS, days_text, in_line, shared
from wreckwright.acts.page_record import PageRecord, Today, component_choices, page_record, small
from wreckwright.acts.page_shapes import Choice
from wreckwright.acts.plan_now import Now, card_now, evening_now, loose_rows, running_now, standing, utc_now
from wreckwright.acts.plan_shapes import (
    BatchRow,
    Can,
    CardPage,
    ErrandRow,
    HandsDay,
    HandsMachine,
    HandsPage,
    HandsTyped,
    JobTyped,
    OrderPage,
    TonightAllPage,
    TonightMachine,
    TonightPage,
)
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.reckon_shapes import Reckoned
from wreckwright.acts.snags import SNAGS, snags_for
from wreckwright.acts.work_key import AT_THE_BENCH, Work, line_name, pieces_of, work_of
from wreckwright.answers.plan_types import EntryKind, Evening, JobCard, Tonight
from wreckwright.answers.tonight import tonight
from wreckwright.errors import EntryError, NotThere, WreckwrightError
from wreckwright.record.evidence import CLOSED_STATES
from wreckwright.record.known import YES_IN_THE_END
from wreckwright.record.resolve import resolve
from wreckwright.record.types import Machine
from wreckwright.store.read import Reader
from wreckwright.store.types import RowKey
from wreckwright.trade.types import Trade

CHARGING = ":charge"
"""Ends the key of the step in which a battery is charged and tested."""
DAYS_SHOWN = 21
_NOT_HERE = ("wanted", "kept_back", "deposit_paid", "ordered", "shipped", "part_arrived", "wrong")
_MAY_BE_WRONG = ("deposit_paid", "ordered", "shipped", "part_arrived", "here", "fitted")
_KINDS: dict[str, EntryKind] = {"look": "look", "gate": "gate", "way": "gate", "off": "off", "on": "on"}


def tonight_page(
    reader: Reader, trade: Trade, reckoner: Reckoner, uid: str, *, hours: float, today: Today = dt.date.today,
    now: Now = utc_now,
) -> TonightPage:
    """What can be done with one machine in so many hours (0 to 24). Raises NotThere, EntryError for other hours."""
    record = page_record(reader, trade, uid, today=today)
    reckoned = _look(reckoner, uid, record.machine)
    evening = _evening(reckoned, record.machine, record.trade)
    return TonightPage(
        head=record.head, standing=standing(reader, uid, reckoned, bought=record.head.bought), hours=hours,
        evening=evening, tonight=_tonight(evening, hours), running=running_now(reader, now),
        loose=loose_rows(record), snags=_snag_choices(("snapped", "does_not_fit", "missing", "took_longer")),
    )


def tonight_all(
    reader: Reader, trade: Trade, reckoner: Reckoner, *, hours: float, now: Now = utc_now
) -> TonightAllPage:
    """The same for all machines that are bought, in their turn: what one leaves of the evening goes to the next.

    Raises EntryError for other hours than 0 to 24.
    """
    _check_hours(hours)
    left, found, orders = hours, [], []
    for turn, (uid, machine) in enumerate(in_line(reader), start=1):
        reckoned = reckoner.look_at(uid, machine)
        record = page_record(reader, trade, uid)
        made = _tonight(_evening(reckoned, machine, record.trade), left)
        orders.append((uid, machine, reckoned.answers.running_order if reckoned.answers else None))
        found.append(
            TonightMachine(
                uid=uid, nickname=machine.nickname, turn=turn, hours=round(left, 2),
                standing=standing(reader, uid, reckoned, bought=True), tonight=made,
            )
        )
        if made is not None:
            left = min(left, made.spare_minutes / 60.0)
    return TonightAllPage(
        hours=hours, machines=tuple(found), daytime=daytime(orders), running=running_now(reader, now),
        snags=_snag_choices(("snapped", "does_not_fit", "missing", "took_longer")),
    )


def order_page(
    reader: Reader, trade: Trade, reckoner: Reckoner, uid: str, *, today: Today = dt.date.today
) -> OrderPage:
    """All work of one machine on the calendar. Raises NotThere."""
    record = page_record(reader, trade, uid, today=today)
    machine = record.machine
    reckoned = _look(reckoner, uid, machine)
    return OrderPage(
        head=record.head, standing=standing(reader, uid, reckoned, bought=record.head.bought),
        order=reckoned.answers.running_order if reckoned.answers and record.head.bought else None,
        errands=_errands(record), batches=_batches(record),
        heat_cycles=(machine.heat_cycles or 0) if machine else 0,
        ridden=entry.number_text(machine.ridden) if machine else "",
        odometer_unit=machine.odometer_unit if machine else "km", machine_rev=record.rev("machine"),
        components=component_choices(machine, record.trade) if machine else (),
        wants=tuple(Choice(value=value, words=words) for value, words in WANTED_WORDS.items()),
        questions=_questions(machine, record.trade, still_open=True), parts=_lines(machine, record.trade, _NOT_HERE),
    )


def card_page(
    reader: Reader, trade: Trade, reckoner: Reckoner, uid: str, key: str, *, today: Today = dt.date.today,
    now: Now = utc_now,
) -> CardPage:
    """One piece of work. Raises NotThere for no machine, and for a key that means nothing."""
    record = page_record(reader, trade, uid, today=today)
    machine = record.machine
    reckoned = _look(reckoner, uid, machine)
    card = next((one for one in reckoned.answers.cards if one.key == key), None) if reckoned.answers else None
    if card is not None and machine is not None:
        card = card_now(card, machine, record.trade)
    work = _work(key, machine, record.trade, card)
    handle = _row_handle(work, machine)
    job = work.job if work else None
    running = next((one for one in running_now(reader, now) if one.uid == uid and one.key == key), None)
    component = (work.component if work else "") or (card.component if card else "")
    return CardPage(
        head=record.head, standing=standing(reader, uid, reckoned, bought=record.head.bought), key=key,
        kind=card.kind if card else _KINDS.get(work.what, "job") if work else "job",
        name=card.name if card else work.name if work else key, card=card,
        gone="" if card else _gone(work, reckoned, bought=record.head.bought), handle=handle,
        rev=record.rev(handle) if handle else 0, done=work is not None and _is_done(work, machine),
        can=_can(work, machine, running=running is not None), running=running,
        typed=job_typed(job, machine.currency) if machine else JobTyped(),
        snags=_snag_choices(snags_for(work), charging=key.endswith(CHARGING)) if work else (),
        pieces=pieces_of(component, machine, record.trade, job) if machine and component else (),
        part_choices=_part_choices(work, machine, record.trade),
        cover_choices=tuple(Choice(value=one.id, words=one.name) for one in record.trade.covers.values()),
        job_choices=tuple(
            Choice(value=one.id, words=one.name) for one in (machine.jobs if machine else ())
            if one.state not in CLOSED_STATES and (job is None or one.id != job.id)
        ),
        question_choices=_questions(machine, record.trade), loose=loose_rows(record, work=key),
    )


def hands_page(reader: Reader, *, today: Today = dt.date.today) -> HandsPage:
    """Working time and turns of all machines that are bought."""
    line = in_line(reader)
    rows = {uid: reader.row(RowKey(machine=uid, kind="calendar", handle="calendar")) for uid, _ in line}
    calendars = [row.fields if row else {} for row in rows.values()]
    both = shared(calendars)
    week = both["weekday_minutes"]
    usual = list(week) if week else [0] * 7
    if line and not week:
        first = line[0][1]
        try:
            usual = list(resolve(first, trade_for(first), as_of=first.as_of or today()).weekday_minutes)
        except WreckwrightError:
            # What is wrong with that record its own pages say.
            usual = [0] * 7
    begin = today()
    return HandsPage(
        machines=tuple(
            HandsMachine(
                uid=uid, nickname=machine.nickname, turn=turn, calendar_rev=row.rev if row else 0,
                same=(row.fields if row else {}).get("weekday_minutes") == week,
            )
            for turn, ((uid, machine), row) in enumerate(zip(line, rows.values(), strict=True), start=1)
        ),
        typed=HandsTyped(
            week=tuple(map(str, week)) if week else ("",) * 7, days_off=days_text(both["days_off"]),
            helper_weekdays=tuple(both["helper_weekdays"]), helper_days=days_text(both["helper_days"]),
        ),
        weekdays=tuple(Choice(value=value, words=words) for value, words in zip(WEEKDAYS, WEEK, strict=True)),
        days=tuple(
            HandsDay(
                date=day.isoformat(), weekday=WEEK[day.weekday()], usual=usual[day.weekday()],
                changed=str(both["changed"].get(day.isoformat(), "")), off=day.isoformat() in both["days_off"],
                helper=day.isoformat() in both["helper_days"] or WEEKDAYS[day.weekday()] in both["helper_weekdays"],
                today=day == begin,
            )
            for day in (begin + dt.timedelta(days=one) for one in range(DAYS_SHOWN))
        ),
        base_revs={uid: row.rev if row else 0 for uid, row in rows.items()},
    )


def _look(reckoner: Reckoner, uid: str, machine: Machine | None) -> Reckoned:
    return reckoner.look(uid) if machine is None else reckoner.look_at(uid, machine)


def _evening(reckoned: Reckoned, machine: Machine | None, trade: Trade) -> Evening | None:
    found = reckoned.answers.evening if reckoned.answers else None
    if found is None or machine is None or not machine.purchase.bought:
        return None
    return evening_now(found, machine, trade)


def _tonight(evening: Evening | None, hours: float) -> Tonight | None:
    _check_hours(hours)
    return tonight(evening, hours) if evening is not None else None


def _check_hours(hours: float) -> None:
    if not 0.0 <= hours <= 24.0:
        raise EntryError(
            f"hours: {hours:g}", allowed="0 to 24", do="say how many hours there are tonight", field="hours"
        )


def _snag_choices(kinds: Iterable[str], *, charging: bool = False) -> tuple[Choice, ...]:
    """`charging`: of a battery, whose test it is."""
    words = {**SNAGS, "fails_test": "It took no charge"} if charging else SNAGS
    return tuple(Choice(value=kind, words=words[kind]) for kind in kinds)


def _work(key: str, machine: Machine | None, trade: Trade, card: JobCard | None) -> Work | None:
    """None: only the card knows of it."""
    if machine is None:
        return None
    try:
        return work_of(key, machine, trade)
    except NotThere:
        if card is None:
            raise
        return None


def _row_handle(work: Work | None, machine: Machine | None) -> str:
    if work is None or machine is None:
        return ""
    if work.what in ("gate", "way"):
        return next((one.id for one in machine.gates if work.target in (one.id, one.template)), "")
    if work.what == "batch":
        return work.target
    return work.job.id if work.job else ""


def _is_done(work: Work, machine: Machine | None) -> bool:
    if work.what == "gate" and machine is not None:
        return any(
            work.target in (one.id, one.template) and one.answer in YES_IN_THE_END for one in machine.gates
        )
    if work.what == "part":
        return work.done or any(line.state == "fitted" for line in work.lines)
    return work.done


def _can(work: Work | None, machine: Machine | None, *, running: bool) -> tuple[Can, ...]:
    if work is None or machine is None or not machine.purchase.bought:
        return ()
    if work.what in ("gate", "way"):
        return ("answer", "snag")
    if work.what == "look":
        return ("look", "snag")
    if work.what in ("off", "on"):
        return ("cover_on" if work.target in machine.covers_off else "cover_off", "snag")
    if work.what not in AT_THE_BENCH:
        return ()
    if _is_done(work, machine):
        return ("edit", "snag", "leave")
    return ("stop" if running else "start", "done", "snag", "leave", "edit")


def _gone(work: Work | None, reckoned: Reckoned, *, bought: bool) -> str:
    if work is not None and work.done:
        return "It is done."
    if not bought:
        return "The machine is not bought: there is nothing to work on yet."
    if reckoned.answers is None or not reckoned.answers.cards:
        return "Its card has not been made yet."
    if reckoned.stale:
        return "It is new since the last reckoning; its card is made with the next one."
    return "It is not in the running order."


def _part_choices(work: Work | None, machine: Machine | None, trade: Trade) -> tuple[Choice, ...]:
    if work is None or machine is None:
        return ()
    of_job = work.job.parts if work.job else ()
    lines = [*work.lines, *(one for one in machine.parts if one.id in of_job and one not in work.lines)]
    return tuple(
        Choice(value=one.id, words=_line_words(one.id, machine, trade)) for one in lines if one.state in _MAY_BE_WRONG
    )


def _lines(machine: Machine | None, trade: Trade, states: Iterable[str]) -> tuple[Choice, ...]:
    if machine is None:
        return ()
    wanted = frozenset(states)
    return tuple(
        Choice(value=one.id, words=_line_words(one.id, machine, trade)) for one in machine.parts
        if one.state in wanted
    )


def _line_words(handle: str, machine: Machine, trade: Trade) -> str:
    line = next(one for one in machine.parts if one.id == handle)
    name = line_name(line, machine, trade)
    return f"{name[:1].upper()}{name[1:]} ({line.state.replace('_', ' ')})"


def _questions(machine: Machine | None, trade: Trade, *, still_open: bool = False) -> tuple[Choice, ...]:
    if machine is None:
        return ()
    answered = {name for one in machine.gates if one.answer in YES_IN_THE_END for name in (one.id, one.template)}
    own = {one.id: one.question for one in machine.gates if not one.template}
    asked = {**{one.id: one.question for one in trade.gates.values()}, **own}
    return tuple(
        Choice(value=name, words=question) for name, question in asked.items()
        if not (still_open and name in answered)
    )


def _errands(record: PageRecord) -> tuple[ErrandRow, ...]:
    rows = [
        ErrandRow(
            handle=one.id, rev=record.rev(one.id), kind=one.kind, words=one.words,
            day=one.day.isoformat() if one.day else "", wants=tuple(WANTED_WORDS[want] for want in one.wants),
            gate=one.gate, part=one.part, batch=one.batch, done=one.done, answer=one.answer,
        )
        for one in (record.machine.errands if record.machine else ())
    ]
    return tuple(sorted(rows, key=lambda row: row.done))


def _batches(record: PageRecord) -> tuple[BatchRow, ...]:
    machine = record.machine
    if machine is None:
        return ()
    return tuple(
        BatchRow(
            handle=one.id, rev=record.rev(one.id), name=one.name, components=one.components,
            component_names=tuple(small(component_words(part, machine, record.trade)) for part in one.components),
            done_by=one.done_by, price=entry.money_text(one.price_minor, machine.currency),
            minimum=entry.money_text(one.minimum_minor, machine.currency), days=entry.number_text(one.days),
            colour=one.colour, state=one.state, state_words=STATE_WORDS[one.state],
            away_on=one.away_on.isoformat() if one.away_on else "",
        )
        for one in machine.batches
    )


__all__ = ["card_page", "hands_page", "order_page", "tonight_all", "tonight_page"]
