"""Whether a course can be kept: an examiner that knows nothing of how courses are made.

It shares the types with the planner and no line of its code: what lies over what, the minutes of an evening and the
order of things are worked out here once more, from what docs/simulator.md says, so that one mistake cannot hide in
both. It looks only for what makes a course impossible; whether it is a good one is not its question.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from wreckwright.plan.check_entries import Entry, Examined, called, examine, reason
from wreckwright.plan.types import NEVER_DAY, Course, Problem, Reason, Step, Test, Work


def check(problem: Problem, course: Course) -> list[Reason]:
    """Every reason why `course` cannot be kept in `problem`; an empty list when it can.

    `problem` has one scenario, in which every test ends in yes at once. The steps of a course are taken in the order
    in which they stand. A course that does not finish within the calendar (`finish_day` None) may leave work out; what
    is in it must be right all the same. Pure.
    Raises: ValueError if the problem has more than one scenario, or a way round.

    >>> import numpy as np
    >>> from wreckwright.futures.hours import Calendar, Hours
    >>> from wreckwright.plan.types import Piece, Test
    >>> none, one = np.zeros((1, 0), int), np.ones((1, 1), int)
    >>> problem = Problem(works=(), covers=(), tests=(Test(key="gate:ride", name="road test"),), minutes=none,
    ...     present=none > 0, off_minutes=none, on_minutes=none, test_minutes=30 * one, release_day=none,
    ...     lead_days=none, test_release_day=2 * one, held=(), way_days=0 * one, way_minutes=0 * one, hours=Hours(
    ...     calendar=Calendar(cumulative_minutes=np.array([0, 60, 60, 120])), attendance_permille=np.array([1000])))
    >>> def ride(day):
    ...     piece = Piece(day=day, from_minute=0, to_minute=30)
    ...     step = Step(key="gate:ride", kind="gate", stage=0, pieces=(piece,), day=day)
    ...     return Course(steps=(step,), finish_day=day)
    >>> check(problem, ride(2))
    []
    >>> [(found.code, found.words) for found in check(problem, ride(0))]
    [('before_part', 'road test (gate:ride) is begun on day 0, but what it waits for is only there on day 2.')]
    """
    if problem.n_scenarios != 1:
        raise ValueError(f"the problem has {problem.n_scenarios} scenarios: a course is checked against exactly one")
    if problem.way_days.any() or problem.way_minutes.any():
        raise ValueError("the problem has a test that ends in no at first: a course is laid out with tests that pass")
    examined = examine(problem, course)
    return [
        *examined.strangers,
        *_missing(problem, course, examined),
        *_evenings(problem, examined),
        *_together(examined),
        *_works(problem, examined),
        *_tests(problem, examined),
        *_cover_states(problem, course, examined),
        *_end(problem, course, examined),
    ]


def _missing(problem: Problem, course: Course, examined: Examined) -> Iterator[Reason]:
    if course.finish_day is None:
        return
    done = f"but the course ends on day {course.finish_day}"
    for j, work in enumerate(problem.works):
        if problem.present[0, j] and j not in examined.works:
            yield reason("missing", work.key, f"{called(work.name, work.key)} is nowhere done, {done} without it")
    for t, test in enumerate(problem.tests):
        if t not in examined.tests:
            yield reason("missing", test.key, f"{called(test.name, test.key)} is nowhere made, {done} without it")


def _evenings(problem: Problem, examined: Examined) -> Iterator[Reason]:
    """Each step by itself against the calendar."""
    room = _room(problem)
    longest_from = list(room)
    for day in reversed(range(len(room) - 1)):
        longest_from[day] = max(longest_from[day], longest_from[day + 1])
    for entry in examined.entries:
        step, key, name = entry.step, entry.step.key, entry.name
        for piece in step.pieces:
            if not 0 <= piece.day < len(room) or room[piece.day] == 0:
                yield reason("day_off", key, f"{name} is worked on day {piece.day}, on which nothing is worked")
                continue
            turn = 0 if problem.begin_minute is None else int(problem.begin_minute[piece.day])
            if piece.from_minute < turn:
                yield reason(
                    "others_turn", key, f"{name} is begun at minute {piece.from_minute} of day {piece.day}, but until "
                    f"minute {turn} that evening belongs to another machine",
                )
            if piece.to_minute > turn + room[piece.day]:
                yield reason(
                    "too_long", key, f"{name} is worked until minute {piece.to_minute} of day {piece.day}, but that "
                    f"evening ends at minute {turn + room[piece.day]}",
                )
        if not step.pieces and not 0 <= step.day < len(room):
            yield reason("day_off", key, f"{name} stands on day {step.day}; the calendar has days 0 to {len(room) - 1}")
        worked = sum(piece.to_minute - piece.from_minute for piece in step.pieces)
        if worked != entry.minutes:
            yield reason(
                "too_short" if worked < entry.minutes else "too_long", key,
                f"{name}, begun on day {entry.day}, is given {worked} minutes, but takes {entry.minutes}",
            )
        if step.pieces and step.day != entry.end[0]:
            yield reason(
                "end_differs", key, f"{name} is said to end on day {step.day}, but is worked until day {entry.end[0]}"
            )
        if entry.helper and problem.helper_day is not None and not (
            0 <= entry.day < len(problem.helper_day) and problem.helper_day[entry.day]
        ):
            yield reason("no_helper", key, f"{name} takes two and is begun on day {entry.day}, when nobody helps")
        if step.kind in ("job", "look", "follow_up") and not problem.works[entry.index].may_split:
            apart = any(
                (a.day, a.to_minute) != (b.day, b.from_minute)
                for a, b in zip(step.pieces, step.pieces[1:], strict=False)
            )
            longest = longest_from[entry.day] if 0 <= entry.day < len(room) else 0
            if apart and entry.minutes <= longest:
                yield reason(
                    "split", key, f"{name} must not be left half done, but is begun on day {entry.day} and ended on "
                    f"day {entry.end[0]}; from then on there is an evening of {longest} minutes for its "
                    f"{entry.minutes}",
                )


def _together(examined: Examined) -> Iterator[Reason]:
    """One pair of hands: one step after the other."""
    for entry in examined.entries:
        pieces = entry.step.pieces
        for piece, following in zip(pieces, (*pieces[1:], None), strict=False):
            backward = following is not None and (following.day, following.from_minute) < (piece.day, piece.to_minute)
            if piece.from_minute >= piece.to_minute or backward:
                yield reason(
                    "overlap", entry.step.key, f"{entry.name} runs backward: from minute {piece.from_minute} to "
                    f"{piece.to_minute} of day {piece.day}"
                    + (f", then from minute {following.from_minute} of day {following.day}" if following else ""),
                )
    last: Entry | None = None
    for entry in examined.entries:
        if last is not None and entry.begin < last.end:
            when = f"on day {entry.day} at minute {entry.begin[1]}"
            until = f"{last.name}, which ends on day {last.end[0]} at minute {last.end[1]}"
            if _share_minutes(last.step, entry.step):
                yield reason("overlap", entry.step.key, f"{entry.name} is begun {when}, together with {until}")
            elif entry.begin < last.begin:
                yield reason("overlap", entry.step.key, f"{entry.name} is begun {when}, but stands behind {until}")
            else:
                yield reason(
                    "split", last.step.key,
                    f"{last.name} is interrupted by {entry.name}, which is begun {when}, before its own end on day "
                    f"{last.end[0]}",
                )
        if last is None or entry.end >= last.end:
            last = entry


def _works(problem: Problem, examined: Examined) -> Iterator[Reason]:
    finders = _finders(problem, examined)
    for j, entry in sorted(examined.works.items(), key=lambda item: item[1].place):
        work, name, key = problem.works[j], entry.name, entry.step.key
        yield from _stretch(problem, examined, entry, work, finders.get(j))
        for i in work.after:
            before = examined.works.get(i)
            if before is None or (i in finders and finders[i].place > entry.place):
                continue  # absent, missing (said elsewhere), or not yet found at that moment
            yield from _waits(entry, before, problem.works[i].cure_days)
        if problem.works[j].kind == "follow_up" and j in finders:
            finder = finders[j]
            here = finder.end[0] + int(problem.lead_days[0, j])
            if entry.place < finder.place:
                yield reason(
                    "before_predecessor", key,
                    f"{name} is begun on day {entry.day}, before {finder.name} brings it to light on day "
                    f"{finder.end[0]}",
                )
            elif entry.day < here:
                yield reason(
                    "before_part", key, f"{name} is begun on day {entry.day}, but {finder.name} brings it to light on "
                    f"day {finder.end[0]} and its part is then only here on day {here}",
                )
        yield from _released(entry, int(problem.release_day[0, j]))
    for held in problem.held:
        waiting = examined.works.get(held.work)
        test = examined.tests.get(held.test)
        if waiting is None or test is None:
            continue
        here = test.end[0] + int(held.days[0])
        if waiting.place < test.place:
            yield reason(
                "before_part", waiting.step.key, f"{waiting.name} is begun on day {waiting.day}, but its part is only "
                f"ordered when {test.name} is passed on day {test.end[0]}",
            )
        elif waiting.day < here:
            yield reason(
                "before_part", waiting.step.key, f"{waiting.name} is begun on day {waiting.day}, but its part is "
                f"ordered when {test.name} is passed on day {test.end[0]} and is only here on day {here}",
            )


def _finders(problem: Problem, examined: Examined) -> dict[int, Entry]:
    """Follow-up -> the step that brings it to light first."""
    shown: list[tuple[Entry, int]] = []
    place = 0  # in `says`: what works show, then what tests show
    all_that_show: tuple[tuple[Sequence[Work | Test], dict[int, Entry]], ...] = (
        (problem.works, examined.works), (problem.tests, examined.tests),
    )
    for things, entries in all_that_show:
        for index, thing in enumerate(things):
            for follow_up in thing.shows:
                if index in entries and (problem.says is None or problem.says[0, place]):
                    shown.append((entries[index], follow_up))
                place += 1
    found: dict[int, Entry] = {}
    for entry, follow_up in sorted(shown, key=lambda pair: pair[0].place):
        found.setdefault(follow_up, entry)
    return found


def _stretch(
    problem: Problem, examined: Examined, entry: Entry, work: Work, finder: Entry | None
) -> Iterator[Reason]:
    stage, key, name = entry.step.stage, entry.step.key, entry.name
    last = work.last_stage
    if work.kind == "follow_up" and finder is not None and finder.stretch > last:
        last = len(problem.tests) - 1  # the test that it was for has been passed: it holds up nothing but the finish
    if not work.first_stage <= stage <= last:
        yield reason(
            "wrong_stretch", key,
            f"{name} is put into stretch {stage} on day {entry.day}; allowed: {work.first_stage} to {last}, "
            f"{_between(problem, work.first_stage, last)}",
        )
    if stage > entry.stretch:
        waits = examined.tests.get(stage - 1)
        when = "is nowhere made" if waits is None else f"is only made on day {waits.end[0]}"
        yield reason(
            "wrong_stretch", key,
            f"{name} belongs to stretch {stage}, but is begun on day {entry.day}, and the test before that stretch "
            f"{when}",
        )


def _between(problem: Problem, first: int, last: int) -> str:
    behind = f"behind {problem.tests[first - 1].key} and " if 0 < first <= len(problem.tests) else ""
    return f"{behind}before {problem.tests[last].key}"


def _waits(entry: Entry, before: Entry, cure_days: int) -> Iterator[Reason]:
    if before.place > entry.place:
        yield reason(
            "before_predecessor", entry.step.key,
            f"{entry.name} is begun on day {entry.day}, but comes after {before.name}, which is only done on day "
            f"{before.end[0]}",
        )
    elif entry.day < before.end[0] + cure_days and cure_days > 0:
        yield reason(
            "before_cure", entry.step.key,
            f"{entry.name} is begun on day {entry.day}, but {before.name} is done on day {before.end[0]} and must be "
            f"left alone until day {before.end[0] + cure_days}",
        )


def _released(entry: Entry, day: int) -> Iterator[Reason]:
    if entry.day < day:
        there = "never comes" if day >= NEVER_DAY else f"is only there on day {day}"
        yield reason(
            "before_part", entry.step.key, f"{entry.name} is begun on day {entry.day}, but what it waits for {there}"
        )


def _tests(problem: Problem, examined: Examined) -> Iterator[Reason]:
    for t, entry in sorted(examined.tests.items()):
        key, name = entry.step.key, entry.name
        if entry.step.stage != t:
            yield reason(
                "wrong_stretch", key, f"{name}, made on day {entry.day}, ends stretch {t}, not {entry.step.stage}"
            )
        for earlier in range(t):
            other = examined.tests.get(earlier)
            if other is not None and other.place > entry.place:
                yield reason(
                    "test_too_early", key, f"{name} is made on day {entry.day}, before {other.name} on day {other.day}"
                )
        yield from _released(entry, int(problem.test_release_day[0, t]))
        for j, work in examined.works.items():
            if work.step.stage <= t and work.place > entry.place:
                yield reason(
                    "test_too_early", key,
                    f"{name} is made on day {entry.day}, but {work.name} belongs before it and is only done on day "
                    f"{work.end[0]}",
                )
            elif work.step.stage == t:
                yield from _waits(entry, work, problem.works[j].cure_days)


def _cover_states(problem: Problem, course: Course, examined: Examined) -> Iterator[Reason]:
    """All covers through the whole course, step by step."""
    covers = problem.covers
    over = [_closure(x, [cover.under for cover in covers]) for x in range(len(covers))]
    directly_beneath = [tuple(y for y, cover in enumerate(covers) if x in cover.under) for x in range(len(covers))]
    beneath = [_closure(x, directly_beneath) for x in range(len(covers))]
    off = {x for x, cover in enumerate(covers) if cover.off_at_start}
    n_tests = len(problem.tests)
    for entry in examined.entries:
        key, name, x = entry.step.key, entry.name, entry.index
        on_day = f"{name}, on day {entry.day}"
        if entry.step.kind in ("off", "on"):
            if (x in off) == (entry.step.kind == "off"):
                yield reason("cover_order", key, f"{on_day}: {covers[x].key} is {entry.step.kind} already")
            hinder = (
                [u for u in covers[x].under if u not in off] if entry.step.kind == "off"
                else [y for y in directly_beneath[x] if y in off]
            )
            if hinder:
                state = "still on, over it" if entry.step.kind == "off" else "still off, beneath it"
                yield reason("cover_order", key, f"{on_day}: {_listed(problem, hinder)} {_is(hinder)} {state}")
            (off.add if entry.step.kind == "off" else off.discard)(x)
            if entry.step.stage != entry.stretch:
                yield reason(
                    "wrong_stretch", key,
                    f"{on_day}: said to be in stretch {entry.step.stage}, but stands in stretch {entry.stretch}",
                )
            continue
        test = problem.tests[x] if entry.step.kind == "gate" else None
        wanted = test.covers_off if test else problem.works[x].covers
        shut = sorted(set[int]().union(*(over[c] for c in wanted)) - off)
        if shut:
            yield reason("cover_on", key, f"{on_day}: {_listed(problem, shut)} {_is(shut)} on and in the way")
        if test is None and problem.works[x].shut and entry.stretch < n_tests:
            wanted_on = set[int]().union(*(beneath[c] for c in problem.works[x].shut))
            if entry.stretch < n_tests - 1:
                wanted_on &= set[int]().union(*(beneath[c] for c in problem.tests[entry.stretch].covers_on))
            for later_work in _all_later(problem, x):
                wanted_on -= set[int]().union(*(over[c] for c in problem.works[later_work].covers))
            if bare := sorted(wanted_on & off):
                yield reason(
                    "cover_off_at_test", key, f"{on_day}: it is done closed up, and {_listed(problem, bare)} "
                    f"{_is(bare)} still off"
                )
        if test is not None:
            closed = set(range(len(covers))) if x == n_tests - 1 else set[int]().union(
                *(beneath[c] for c in test.covers_on)
            )
            # What nobody puts back on after the last test is said at the end.
            later = {e.index for e in examined.entries if e.step.kind == "on" and e.place > entry.place}
            bare = sorted(c for c in closed & off if x < n_tests - 1 or c in later or course.finish_day is None)
            if bare:
                yield reason("cover_off_at_test", key, f"{on_day}: {_listed(problem, bare)} {_is(bare)} still off")
    if course.finish_day is not None:
        for c in sorted(off):
            yield reason(
                "left_off", f"on:{covers[c].key}",
                f"{called(covers[c].name, covers[c].key)} is still off when the course ends on day "
                f"{course.finish_day}",
            )


def _all_later(problem: Problem, work: int) -> set[int]:
    """Works that come after one, directly or through others."""
    found: set[int] = set()
    grown = True
    while grown:
        grown = False
        for j, other in enumerate(problem.works):
            if j not in found and any(i == work or i in found for i in other.after):
                found.add(j)
                grown = True
    return found


def _end(problem: Problem, course: Course, examined: Examined) -> Iterator[Reason]:
    last = examined.tests.get(len(problem.tests) - 1)
    if last is not None and course.finish_day != last.end[0]:
        said = "never" if course.finish_day is None else f"on day {course.finish_day}"
        yield reason(
            "end_differs", last.step.key, f"the course is said to end {said}, but {last.name} is passed on day "
            f"{last.end[0]}",
        )


def _room(problem: Problem) -> list[int]:
    """Minutes that are worked on each day."""
    planned = [int(minutes) for minutes in problem.hours.calendar.cumulative_minutes]
    share = int(problem.hours.attendance_permille[0])
    end = planned[-1] * share // 1000
    begins = [min(-(-minutes * share // 1000), end) for minutes in planned]
    return [later - earlier for earlier, later in zip(begins, begins[1:], strict=False)]


def _closure(start: int, links: list[tuple[int, ...]]) -> set[int]:
    found, ahead = {start}, [start]
    while ahead:
        fresh = set(links[ahead.pop()]) - found
        found |= fresh
        ahead.extend(fresh)
    return found


def _share_minutes(a: Step, b: Step) -> bool:
    return any(
        p.day == q.day and p.from_minute < q.to_minute and q.from_minute < p.to_minute
        for p in a.pieces for q in b.pieces
    )


def _listed(problem: Problem, covers: list[int]) -> str:
    return " and ".join(called(problem.covers[x].name, problem.covers[x].key) for x in covers)


def _is(covers: list[int]) -> str:
    return "is" if len(covers) == 1 else "are"
