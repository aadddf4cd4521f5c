"""A plan that was reckoned some time ago, brought up to what the record says now: what is done is taken out of it.

So a page shows the evening as it stands the moment after a tap, and not only when it has been reckoned anew.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator

from msgspec.structs import replace

from wreckwright.acts.checks import trade_for
from wreckwright.acts.doing import LONGEST_SITTING_MINUTES, elapsed_minutes, running_works
from wreckwright.acts.loose_ends import LOOSE_WORDS
from wreckwright.acts.moved import moved
from wreckwright.acts.page_changes import changes_between
from wreckwright.acts.page_record import PageRecord
from wreckwright.acts.plan_shapes import LooseRow, RunningWork, Standing
from wreckwright.acts.reckon_shapes import Answers, Reckoned
from wreckwright.acts.work_key import above, standing_for, work_of
from wreckwright.answers.plan_types import Evening, EveningLoose, EveningWork, JobCard
from wreckwright.errors import NotThere
from wreckwright.record.evidence import CLOSED_STATES, MENDING_KINDS
from wreckwright.record.known import YES_IN_THE_END
from wreckwright.record.types import Job, Machine
from wreckwright.store.read import Reader
from wreckwright.trade.types import Trade

Now = Callable[[], dt.datetime]
CURES = "what was done before it cures"
NOT_BOUGHT = "It is not bought: there is nothing to work on yet."
_GONE_LINES = ("fitted", "sent_back", "refused", "refunded", "sold")


def utc_now() -> dt.datetime:
    return dt.datetime.now(dt.UTC)


def standing(reader: Reader, uid: str, reckoned: Reckoned, *, bought: bool) -> Standing:
    """How far the plan of a machine is, and what has moved in it."""
    now, before = reckoned.answers, reckoned.before
    news = moved(before, now) if now is not None and before is not None else ()
    by = (
        changes_between(reader, uid, after=before.change, until=now.change)
        if now is not None and before is not None
        else ()
    )
    return Standing(
        state=reckoned.state, step=reckoned.step, share=reckoned.share, stale=reckoned.stale,
        provisional=now is not None and now.provisional, why=_why(reckoned, bought=bought), moved=news, moved_by=by,
        steady=_steady(now) if now is not None and by and not news else "",
    )


def _steady(now: Answers) -> str:
    order = now.running_order
    if order is None or order.finish is None or order.finish_p80 is None:
        return "Nothing has moved by more than chance."
    finish, late = (
        one.words if one.days is None else f"by {one.words}" for one in (order.finish, order.finish_p80)
    )
    return f"Nothing has moved by more than chance: finished half of the time {finish}, 8 in 10 {late}, as before."


def _why(reckoned: Reckoned, *, bought: bool) -> str:
    if not bought:
        return NOT_BOUGHT
    answers = reckoned.answers
    if answers is not None and answers.running_order is not None:
        return ""
    if reckoned.why:
        return reckoned.why
    return {
        "running": "It is being planned.",
        "waiting": "It waits for its turn to be planned.",
        "fresh": "There is no plan of it.",
    }.get(reckoned.state, "It has not been planned yet.")


def evening_now(evening: Evening, machine: Machine, trade: Trade) -> Evening:
    """The same evening with what was done, answered, uncovered, left loose and seen to since."""
    gone = frozenset(_done_keys(machine))
    begun = {key for job in machine.jobs if job.state == "open" for key in keys_of(job)}
    curing = {work.key for work in evening.works if work.key in gone and work.cure_days > 0}
    works = tuple(
        _work_now(work, gone, curing, begun=work.begun or work.key in begun)
        for work in evening.works if work.key not in gone
    )
    off = frozenset(above(machine.covers_off, trade))
    stage = evening.stage
    passed = {work.stage for work in evening.works if work.kind == "gate" and work.key in gone and _yes(work, machine)}
    while stage in passed:
        stage += 1
    question = next((work.name for work in works if work.kind == "gate"), evening.question) if passed else (
        evening.question
    )
    return replace(
        evening, works=works, stage=stage, question=question,
        covers=tuple(replace(cover, off=cover.id in off) for cover in evening.covers),
        loose=tuple(
            EveningLoose(handle=one.id, what=one.what, words=one.words, count=one.count)
            for one in machine.loose_ends if not one.closed
        ),
    )


def _work_now(work: EveningWork, gone: frozenset[str], curing: set[str], *, begun: bool) -> EveningWork:
    waits = bool(curing.intersection(work.after))
    return replace(
        work, after=tuple(key for key in work.after if key not in gone), begun=begun,
        ready=work.ready and not waits, waits_for=CURES if waits and work.ready else work.waits_for,
    )


def card_now(card: JobCard, machine: Machine, trade: Trade) -> JobCard:
    """The same card with the covers as they are now, what is done of it, and which of its steps are done."""
    off = frozenset(above(machine.covers_off, trade))
    gone = frozenset(_done_keys(machine))
    job = next((one for one in machine.jobs if card.key in keys_of(one)), None)
    return replace(
        card, off=tuple(replace(one, off_already=one.id in off) for one in card.off),
        siblings=tuple((key, name, done or key in gone) for key, name, done in card.siblings),
        handle=job.id if job else card.handle, state=job.state.replace("_", " ") if job else card.state,
        done_minutes=(job.done_minutes or 0.0) if job else card.done_minutes,
    )


def keys_of(job: Job) -> tuple[str, ...]:
    """Keys of the work that a row stands for."""
    if job.stands_for:
        return (job.stands_for,)
    mends = job.component and job.kind in MENDING_KINDS
    return (f"job:{job.id}", *((job.component,) if mends else ()))


def _done_keys(machine: Machine) -> Iterator[str]:
    for job in machine.jobs:
        if job.state in CLOSED_STATES:
            yield from keys_of(job)
    for line in machine.parts:
        if line.state in _GONE_LINES:
            yield f"part:{line.id}"
    for gate in machine.gates:
        if gate.answer != "unasked":
            yield f"gate:{gate.id}"
            if gate.template:
                yield f"gate:{gate.template}"
    for finding in machine.findings:
        if finding.check:
            yield f"look:{finding.check}"
    for batch in machine.batches:
        if batch.state == "back":
            yield f"batch:{batch.id}"


def _yes(work: EveningWork, machine: Machine) -> bool:
    name = work.key.removeprefix("gate:")
    return any(name in (gate.id, gate.template) and gate.answer in YES_IN_THE_END for gate in machine.gates)


def running_now(reader: Reader, now: Now) -> tuple[RunningWork, ...]:
    """All that somebody is at, on any machine."""
    found = []
    for uid, machine, job in running_works(reader):
        assert job.started_at is not None
        minutes = elapsed_minutes(job.started_at, now())
        found.append(
            RunningWork(
                uid=uid, nickname=machine.nickname, key=keys_of(job)[0] if job.stands_for else _own_key(job, machine),
                name=job.name, since=job.started_at.astimezone(dt.UTC), minutes=minutes,
                forgotten=minutes > LONGEST_SITTING_MINUTES,
            )
        )
    return tuple(found)


def _own_key(job: Job, machine: Machine) -> str:
    """An own mending job stands for the fitting of its component, where that is work anyway."""
    if job.component and job.kind in MENDING_KINDS and standing_for(job.component, machine) is None:
        work = work_of(job.component, machine, trade_for(machine))
        if work.job is not None and work.job.id == job.id:
            return job.component
    return f"job:{job.id}"


def loose_rows(record: PageRecord, *, work: str = "") -> tuple[LooseRow, ...]:
    """Loose ends that are not closed, oldest first; with `work` those of that work."""
    machine = record.machine
    if machine is None:
        return ()
    return tuple(
        LooseRow(
            handle=one.id, rev=record.rev(one.id), what=one.what, what_words=LOOSE_WORDS[one.what], words=one.words,
            count=one.count, work=one.work, work_name=_work_name(one.work, machine, record.trade), photos=one.photos,
            by=one.by, at=one.at,
        )
        for one in machine.loose_ends if not one.closed and (not work or one.work == work)
    )


def _work_name(key: str, machine: Machine, trade: Trade) -> str:
    if not key:
        return ""
    try:
        return work_of(key, machine, trade).name
    except NotThere:
        return key
