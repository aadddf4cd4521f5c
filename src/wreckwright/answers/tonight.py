"""What can usefully be done in the hours there are tonight.

Everything is weighed one piece after another, as a careful mechanic would: what was left loose; what has arrived and
may still go back; what is begun; what the next question waits for, the longest chain of work first; then what lies open
already. Covers come off once for all that is done behind them. Light: no numeric library is loaded for it, so that the
list can be made anew for any number of hours. docs/tonight.md says what it means.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, field

from wreckwright.answers.plan_types import Evening, EveningCover, EveningWork, Tonight, TonightEntry
from wreckwright.answers.plan_words import MINUTES_NAMED, capital, counted, listed, some, work_words
from wreckwright.errors import AnswerError

FITS_FROM = 0.6
"""Chance of ending it within what is left from which on a piece of work is begun (judgement)."""
FITS_Z = 0.2533471031357997
"""Normal quantile of `FITS_FROM`."""
LEAST_PART_MINUTES = 20.0
"""Less than this of a piece of work is not worth laying out the tools for (judgement)."""
CHAIN_STEP_MINUTES = 120.0
"""Chains of work are told apart by evenings of two hours; within one, what lies open already goes first (judgement)."""
LATE_MINUTES, LATE_SHARE = 90.0, 0.75
"""Late is after an hour and a half and after three quarters of the time (common practice: tired hands and brakes)."""
MOST_HOURS = 24.0

WAY_ROUND = "way:"
"""How the key of a way round begins: it is tried before all that waits for the same question."""
ROUGH_ANSWER, ARRIVED, BEGUN, BEFORE_QUESTION, IN_STRETCH, LATER = range(6)


@dataclass(frozen=True, kw_only=True)
class _Way:
    """How a piece of work is reached from where the machine stands, and what it takes."""

    work: EveningWork
    off: tuple[EveningCover, ...]
    on: tuple[EveningCover, ...]

    @property
    def cover_minutes(self) -> float:
        return sum(one.minutes_off for one in self.off) + sum(one.minutes_on for one in self.on)

    @property
    def minutes(self) -> float:
        return self.cover_minutes + self.work.minutes


@dataclass(kw_only=True)
class _State:
    """The machine and the evening as they are after what has been listed so far."""

    evening: Evening
    stage: int
    left: float
    whole: float
    off: set[str]
    undone: set[str]
    """Keys of work that comes before other work and is not done yet."""
    listed: set[str] = field(default_factory=set)
    tested: bool = False

    def way(self, work: EveningWork) -> _Way:
        """Outer covers come off first and are put on last."""
        covers = self.evening.covers
        return _Way(
            work=work,
            off=tuple(one for one in covers if one.id in work.covers and one.id not in self.off),
            on=tuple(one for one in reversed(covers) if one.id in work.covers_on and one.id in self.off),
        )


def tonight(evening: Evening, hours: float) -> Tonight:
    """The list for one evening of `hours` hours (0 to 24), best first.

    A piece of work is on it when it will be ended in what is left with a chance of 0.6 or more; one that takes longer
    is only begun, and only if it may be left half done. After a test, all further entries hold if it ends in yes.
    Raises: AnswerError for other hours.
    """
    if not 0.0 <= hours <= MOST_HOURS:
        raise AnswerError(
            f"{hours:g} hours cannot be planned with", f"0 to {MOST_HOURS:g} hours", "Say how long you have tonight"
        )
    whole = 60.0 * hours
    state = _State(
        evening=evening, stage=evening.stage, left=whole, whole=whole,
        off={cover.id for cover in evening.covers if cover.off}, undone={work.key for work in evening.works},
    )
    entries = tuple(_entries(state)) if whole > 0.0 else ()
    return Tonight(
        nickname=evening.nickname, as_of=evening.date, rests_on=(), hours=hours, first=evening.loose, entries=entries,
        left_open=tuple(cover.name for cover in evening.covers if cover.id in state.off),
        nothing="" if entries else _nothing(state, hours), spare_minutes=max(state.left, 0.0),
        why=_why(evening, entries, state.left),
    )


def fits_chance(minutes: float, log_sd: float, left: float) -> float:
    """Chance (0..1) that work of usually `minutes`, log-normal with `log_sd`, is ended within `left` minutes.

    >>> fits_chance(60.0, 0.35, 60.0)
    0.5
    >>> round(fits_chance(60.0, 0.35, 80.0), 2), fits_chance(60.0, 0.0, 59.0), fits_chance(0.0, 0.35, 0.0)
    (0.79, 0.0, 1.0)
    """
    if minutes <= 0.0:
        return 1.0 if left >= 0.0 else 0.0
    if left <= 0.0:
        return 0.0
    if log_sd <= 0.0:
        return 1.0 if minutes <= left else 0.0
    return 0.5 * (1.0 + math.erf(math.log(left / minutes) / (log_sd * math.sqrt(2.0))))


def _entries(state: _State) -> Iterator[TonightEntry]:
    half_done: _Way | None = None
    while True:
        taken: _Way | None = None
        for way in _in_order(state):
            if _chance(state, way, state.left) >= FITS_FROM:
                taken = way
                break
            if not _can_begin(state, way):
                continue
            if _chance(state, way, state.whole) < FITS_FROM:
                # No evening as long as this one holds it: left to the end, it would get the crumbs of every evening.
                half_done = way
                break
            half_done = half_done or way
        if taken is None:
            break
        # What was only put off is weighed again with what is left then.
        half_done = None
        yield _entry(state, taken, in_part=False)
        _done(state, taken)
    if half_done is not None:
        yield _entry(state, half_done, in_part=True)
        _move_covers(state, half_done)
        state.left = 0.0


def _chance(state: _State, way: _Way, minutes: float) -> float:
    return fits_chance(way.work.minutes, way.work.log_sd, minutes - way.cover_minutes)


def _can_begin(state: _State, way: _Way) -> bool:
    return way.work.may_split and state.left - way.cover_minutes >= LEAST_PART_MINUTES


def _in_order(state: _State) -> list[_Way]:
    """What can be done now, best first."""
    ways = [state.way(work) for work in state.evening.works if _possible(state, work)]
    place = {work.key: index for index, work in enumerate(state.evening.works)}
    able = [way for way in ways if state.evening.helper_here or not _wants_helper(way)]
    reopened = _shut_for_test(state)
    able = [way for way in able if _class(state, way.work) != LATER or not any(one.id in reopened for one in way.off)]

    def rank(way: _Way) -> tuple[int, str, int, float, int]:
        kind = _class(state, way.work)
        last_return = way.work.last_return or "9999" if kind == ARRIVED else ""
        chain = int(way.work.tail_minutes / CHAIN_STEP_MINUTES)
        return kind, last_return, -chain, way.cover_minutes, place[way.work.key]

    return sorted(able, key=rank)


def _possible(state: _State, work: EveningWork) -> bool:
    """It is ready, and all that comes before it is done by then."""
    if not work.ready or work.key in state.listed or state.undone.intersection(work.after):
        return False
    if work.kind == "gate":
        return work.stage <= state.stage
    # What is tested closed up waits until nothing before it wants those covers off any more.
    closing = state.off.intersection(work.covers_on)
    return not closing or not any(
        closing.intersection(other.covers) for other in state.evening.works
        if other.key in state.undone and other.key not in state.listed and other.stage <= work.stage
        and other.key != work.key and work.key not in other.after
    )


def _wants_helper(way: _Way) -> bool:
    return way.work.helper or any(one.helper for one in (*way.off, *way.on))


def _shut_for_test(state: _State) -> frozenset[str]:
    """Covers that the next test wants on: opening them for what can wait would cost them twice."""
    return frozenset(
        cover for work in state.evening.works if work.kind == "gate" and work.stage == state.stage
        for cover in work.covers_on
    )


def _class(state: _State, work: EveningWork) -> int:
    if work.rough and not state.tested:
        return ROUGH_ANSWER
    if work.part:
        return ARRIVED
    if work.stage > state.stage:
        return LATER
    if work.begun or work.key.startswith(WAY_ROUND):
        return BEGUN
    # After a yes the next question is another one, and all works of its stretch are for it.
    return BEFORE_QUESTION if work.for_gate or state.tested else IN_STRETCH


def _entry(state: _State, way: _Way, *, in_part: bool) -> TonightEntry:
    work = way.work
    return TonightEntry(
        key=work.key, name=work.name, kind=work.kind, minutes=work.minutes,
        fits_chance=_chance(state, way, state.left), in_part=in_part, first_off=tuple(one.name for one in way.off),
        first_on=tuple(one.name_on or one.name for one in way.on), minutes_covers=way.cover_minutes,
        why=_why_now(state, way, in_part=in_part), caution=_caution(state, way), if_yes=state.tested, film=work.film,
    )


def _done(state: _State, way: _Way) -> None:
    _move_covers(state, way)
    work = way.work
    state.left -= way.minutes
    state.listed.add(work.key)
    if work.cure_days <= 0:
        # What cures is not done tonight for those that come after it.
        state.undone.discard(work.key)
    if work.kind == "gate":
        state.stage, state.tested = work.stage + 1, True


def _move_covers(state: _State, way: _Way) -> None:
    state.off |= {one.id for one in way.off}
    state.off -= {one.id for one in way.on}


def _caution(state: _State, way: _Way) -> str:
    """Late in the evening and alone first, then the weightiest of the work and of the covers that come off for it."""
    work = way.work
    begins = state.whole - state.left
    late = work.late if begins >= max(LATE_MINUTES, LATE_SHARE * state.whole) else ""
    alone = "" if state.evening.helper_here and state.evening.help_known else work.alone
    own = work.caution or next((one.caution for one in way.off if one.caution), "")
    said = dict.fromkeys(text.strip().rstrip(".") for text in (late or alone, own) if text.strip())
    return ". ".join(said)


def _why_now(state: _State, way: _Way, *, in_part: bool) -> str:
    work = way.work
    begun = ""
    if in_part:
        begun = f" It takes {work_words(work.minutes)} in all and may be left half done"
    return f"{_reason(state, way)}.{begun + '.' if begun else ''}"


def _reason(state: _State, way: _Way) -> str:
    work = way.work
    kind = _class(state, work)
    if kind == ROUGH_ANSWER:
        return f"It is the quickest way to a first answer: '{state.evening.question}' must end in yes"
    if kind == ARRIVED:
        limit = f"it can be sent back until {work.last_return}" if work.last_return else ""
        until = limit or "a wrong one can be sent back only for a while"
        return f"It is here and has not been tried on; {until}"
    if work.kind == "gate":
        moved = f", and {counted(len(way.on), 'cover')} put on for it" if way.on else ""
        return f"All that comes before it is done{moved}; a yes opens the next stretch"
    if work.key.startswith(WAY_ROUND):
        return "The question was answered no, and this is the first way round"
    if kind == BEGUN:
        return f"It is begun; {work_words(work.minutes)} of it are left"
    if kind == LATER:
        return "It belongs after the next question, and nothing before that can be done in what is left of the evening"
    of_what = "work" if work.tail_minutes < MINUTES_NAMED else "evenings"
    chain = f"{work_words(work.tail_minutes)} of {of_what} hang on it" if work.tail_minutes >= 1.0 else ""
    if work.kind == "look":
        told = f"It would show {work.shows}" if work.shows else "What it finds is known before the work after it"
        return f"{told}; {chain}" if chain else told
    if work.for_gate and not state.tested and state.evening.question:
        return f"'{state.evening.question}' cannot be asked before it" + (f"; {chain}" if chain else "")
    if chain:
        return capital(chain)
    if work.covers and not way.off:
        return "What is in the way of it is off already"
    if way.off:
        return f"It is next in the plan; {work_words(way.cover_minutes)} go into what is in the way"
    return "It is next in the plan, and nothing is in the way of it"


def _nothing(state: _State, hours: float) -> str:
    """Why the list is empty, and what would change that."""
    evening = state.evening
    if hours <= 0.0:
        off = " and none are planned on this day" if evening.planned_minutes <= 0 else ""
        return f"There are no hours for it tonight{off}; say how many there are after all, and the list is made anew."
    if not evening.works:
        return "No work is left that is known of."
    able = _in_order(state)
    if able:
        best = min(able, key=_hours_wanted)
        return (
            f"{capital(best.work.name)} is the shortest that can be done and takes "
            f"{work_words(best.minutes)} with what is in the way; give it {work_words(60.0 * _hours_wanted(best))} "
            "in one go."
        )
    possible = [state.way(work) for work in evening.works if _possible(state, work)]
    alone = tuple(way.work.name for way in possible if _wants_helper(way)) if not evening.helper_here else ()
    if alone:
        return f"What can be done takes two ({some(alone)}); it waits for a day on which somebody helps."
    if possible:
        names = some(tuple(way.work.name for way in possible))
        return f"{capital(names)} would open what must be shut for the next question; that one comes first."
    waits = tuple(dict.fromkeys(work.waits_for for work in evening.works if not work.ready and work.waits_for))
    what = f" for {some(waits)}" if waits else ""
    arrives = f" Expected next: {evening.next_arrival}." if evening.next_arrival else ""
    return f"All that is left to do waits{what}.{arrives}"


def _hours_wanted(way: _Way) -> float:
    """Hours, to the next half, in which it would be ended with the chance from which on it is begun; where it may be
    left half done, in which it would be worth beginning."""
    if way.work.may_split:
        minutes = way.cover_minutes + min(LEAST_PART_MINUTES, way.work.minutes)
    else:
        minutes = way.cover_minutes + way.work.minutes * math.exp(FITS_Z * way.work.log_sd)
    return max(math.ceil(minutes / 30.0), 1) / 2.0


def _why(evening: Evening, entries: tuple[TonightEntry, ...], left: float) -> str:
    # Loose ends stand above the list, with their own heading.
    if not entries:
        loose = f"{counted(len(evening.loose), 'loose end')} first, then nothing." if evening.loose else ""
        return loose or "Nothing can be done tonight."
    covers = sum(entry.minutes_covers for entry in entries)
    parts = [
        counted(len(entries), "piece") + " of work",
        *((f"{work_words(covers)} for covers",) if covers >= 1.0 else ()),
        *((f"{work_words(left)} to spare",) if left >= 1.0 else ()),
    ]
    return f"{capital(listed(tuple(parts)))}."
