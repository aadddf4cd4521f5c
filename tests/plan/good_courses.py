"""Courses that can be kept: one worked out by hand, and any number made from seeds by a plain dispatcher.

Shares no code with the planner and none with the checker.
"""

from __future__ import annotations

import random
from dataclasses import replace

import numpy as np

from wreckwright.futures.hours import Calendar, Hours
from wreckwright.plan.types import Course, CoverWork, Held, Piece, Problem, Step, StepKind, Test, Work

NO_MINUTES = 2, 6
SEAT, TANK, SUPPORT, MUDGUARD = range(4)
TRY_ON, BRACKET, LAMP, CARRY, LEVER, MOUNTS, HOSE, SPARK, PUMP, TAIL, PAINT = range(11)


def workshop() -> Problem:
    """A small rebuild with a tank under a seat, a cure, a held order, helper days (4, 9) and an evening shared with
    another machine (day 3, which is ours from minute 30 on). Nothing is worked on days 2 and 6; 60 minutes elsewhere.
    """
    works = (
        Work(key="headlamp:try_on", name="Headlamp: try on", kind="job", first_stage=0, last_stage=1),
        Work(key="cowl_bracket", name="Cowl bracket: glue", kind="job", first_stage=0, last_stage=1, cure_days=1),
        Work(key="headlamp", name="Headlamp: fit", kind="job", first_stage=0, last_stage=1, after=(TRY_ON, BRACKET)),
        Work(key="lever_brake_front:carry_over", name="Lever: carry over", kind="job", first_stage=0, last_stage=0),
        Work(key="lever_brake_front", name="Lever: fit", kind="job", first_stage=0, last_stage=0, after=(CARRY,)),
        Work(
            key="engine_mounts", name="Engine mounts: fit", kind="job", first_stage=0, last_stage=1,
            covers=(SUPPORT,), helper=True, may_split=False,
        ),
        Work(key="fuel_hose", name="Fuel hose: fit", kind="job", first_stage=0, last_stage=0, covers=(TANK,)),
        Work(
            key="look:spark", name="Is there a spark", kind="look", first_stage=0, last_stage=1, covers=(TANK,),
            shows=(PUMP,),
        ),
        Work(key="fuel_pump", name="Fuel pump", kind="follow_up", first_stage=0, last_stage=1, covers=(TANK,)),
        Work(key="tail_lamp", name="Tail lamp: fit", kind="job", first_stage=1, last_stage=1, covers=(SEAT,)),
        Work(key="job:j1", name="Touch up paint", kind="job", first_stage=0, last_stage=1, cure_days=2),
    )
    covers = (
        CoverWork(key="seat_off", name="Seat"),
        CoverWork(key="tank_off", name="Tank", under=(SEAT,)),
        CoverWork(key="engine_support", name="Engine supported"),
        CoverWork(key="mudguard_off", name="Mudguard"),
    )
    tests = (
        Test(key="gate:runs", name="Does it run", covers_off=(SEAT,), covers_on=(TANK,)),
        Test(key="gate:ride", name="Road test"),
    )
    evenings = [0 if day in NO_MINUTES else 60 for day in range(15)]
    return Problem(
        works=works,
        covers=covers,
        tests=tests,
        minutes=np.array([[10, 20, 15, 10, 15, 40, 20, 10, 30, 25, 30]], np.int32),
        present=np.array([[j != PUMP for j in range(len(works))]]),
        off_minutes=np.array([[1, 12, 8, 4]], np.int32),
        on_minutes=np.array([[1, 15, 4, 5]], np.int32),
        test_minutes=np.array([[20, 30]], np.int32),
        release_day=np.array([[0, 0, 3, 3, 0, 0, 0, 0, 0, 0, 0]], np.int32),
        lead_days=np.array([[0, 0, 0, 0, 0, 0, 0, 0, 5, 0, 0]], np.int32),
        test_release_day=np.array([[0, 7]], np.int32),
        held=(Held(work=TAIL, test=0, days=np.array([3], np.int32)),),
        way_days=np.zeros((1, 2), np.int32),
        way_minutes=np.zeros((1, 2), np.int32),
        hours=Hours(
            calendar=Calendar(cumulative_minutes=np.cumsum([0, *evenings])), attendance_permille=np.array([1000])
        ),
        helper_day=np.array([day in (4, 9) for day in range(15)]),
        begin_minute=np.array([30 if day == 3 else 0 for day in range(15)], np.int32),
    )


def step(key: str, stage: int, *pieces: tuple[int, int, int], kind: StepKind | None = None) -> Step:
    """A step worked in `pieces` of (day, from minute, to minute)."""
    guessed: dict[str, StepKind] = {"gate": "gate", "off": "off", "on": "on", "look": "look"}
    return Step(
        key=key, kind=kind or guessed.get(key.split(":")[0], "job"), stage=stage,
        pieces=tuple(Piece(day=day, from_minute=begin, to_minute=end) for day, begin, end in pieces),
        day=pieces[-1][0],
    )


def workshop_course() -> Course:
    """Of `workshop`, hand-worked evening by evening."""
    return Course(
        steps=(
            step("headlamp:try_on", 0, (0, 0, 10)),
            step("cowl_bracket", 0, (0, 10, 30)),  # may be touched again from day 1 on
            step("off:seat_off", 0, (0, 30, 31)),
            step("off:tank_off", 0, (0, 31, 43)),
            step("look:spark", 0, (0, 43, 53)),
            step("fuel_hose", 0, (0, 53, 60), (1, 0, 13)),  # left half done over night
            step("on:tank_off", 0, (1, 13, 28)),
            step("off:engine_support", 0, (1, 28, 36)),
            step("lever_brake_front:carry_over", 0, (3, 30, 40)),  # its part is here on day 3; ours from minute 30 on
            step("lever_brake_front", 0, (3, 40, 55)),
            step("headlamp", 0, (3, 55, 70)),
            step("engine_mounts", 0, (4, 0, 40)),  # somebody helps on day 4
            step("gate:runs", 0, (4, 40, 60)),  # yes: the tail lamp is ordered and is here on day 7
            step("job:j1", 1, (5, 0, 30)),  # holds up the road test until day 7
            step("on:engine_support", 1, (5, 30, 34)),
            step("tail_lamp", 1, (7, 0, 25)),
            step("on:seat_off", 1, (7, 25, 26)),
            step("gate:ride", 1, (7, 26, 56)),
        ),
        finish_day=7,
    )


def random_problem(seed: int) -> Problem:
    """A small problem with everything in it; valid by construction."""
    rng = random.Random(seed)
    n_covers, n_tests, n_works = rng.randint(0, 5), rng.randint(1, 3), rng.randint(1, 9)
    covers = tuple(
        CoverWork(
            key=f"c{x}", name=f"cover {x}", under=tuple(u for u in range(x) if rng.random() < 0.4),
            helper=rng.random() < 0.1,
        )
        for x in range(n_covers)
    )
    # A cover may lie off at the start if all that lies over it does.
    off = set[int]()
    for x, cover in enumerate(covers):
        if set(cover.under) <= off and rng.random() < 0.3:
            off.add(x)
    covers = tuple(replace(cover, off_at_start=x in off) for x, cover in enumerate(covers))
    tests = tuple(
        Test(
            key=f"gate:g{t}", name=f"test {t}", helper=rng.random() < 0.1,
            covers_on=tuple(x for x in range(n_covers) if t < n_tests - 1 and rng.random() < 0.4),
        )
        for t in range(n_tests)
    )
    held, works = [], []
    for j in range(n_works):
        before = [i for i in range(j) if rng.random() < 0.2]
        first = max([0, *(works[i].first_stage for i in before)])
        if n_tests > 1 and rng.random() < 0.25:
            test = rng.randrange(n_tests - 1)
            first = max(first, test + 1)
            held.append(Held(work=j, test=test, days=np.array([rng.randint(0, 6)], np.int32)))
        works.append(
            Work(
                key=f"w{j}", name=f"work {j}", kind="look" if rng.random() < 0.2 else "job", first_stage=first,
                last_stage=rng.randint(max([first, *(works[i].last_stage for i in before)]), n_tests - 1),
                after=tuple(before),
                covers=tuple(x for x in range(n_covers) if rng.random() < 0.3),
                cure_days=rng.choice([0, 0, 0, 1, 3]), helper=rng.random() < 0.15, may_split=rng.random() < 0.7,
            )
        )
    days = 400
    evenings = [rng.choice([0, 30, 60, 90]) for _ in range(days)]
    evenings[0] = 30
    return Problem(
        works=tuple(works), covers=covers, tests=tests, held=tuple(held),
        minutes=np.array([[rng.choice([0, 5, 20, 45, 80, 140]) for _ in works]], np.int32),
        present=np.array([[rng.random() < 0.9 for _ in works]]),
        off_minutes=np.array([[rng.randint(0, 12) for _ in covers]], np.int32).reshape(1, n_covers),
        on_minutes=np.array([[rng.randint(0, 15) for _ in covers]], np.int32).reshape(1, n_covers),
        test_minutes=np.array([[rng.choice([0, 15, 40]) for _ in tests]], np.int32),
        release_day=np.array([[rng.choice([0, 0, 0, 4, 12]) for _ in works]], np.int32),
        lead_days=np.zeros((1, n_works), np.int32),
        test_release_day=np.array([[rng.choice([0, 0, 9]) for _ in tests]], np.int32),
        way_days=np.zeros((1, n_tests), np.int32), way_minutes=np.zeros((1, n_tests), np.int32),
        hours=Hours(
            calendar=Calendar(cumulative_minutes=np.cumsum([0, *evenings])),
            attendance_permille=np.array([rng.choice([1000, 1000, 700])]),
        ),
        helper_day=np.array([rng.random() < 0.3 for _ in range(days)]) if rng.random() < 0.5 else None,
        begin_minute=np.array([rng.choice([0, 0, 25]) for _ in range(days)], np.int32) if rng.random() < 0.5 else None,
    )


def plain_course(problem: Problem, seed: int) -> Course:
    """Work taken up in a random order, each as soon as its turn has come; evening by evening, minute by minute."""
    rng = random.Random(seed)
    queue: list[tuple[str, StepKind, int, int]] = []  # key, kind, index, stage
    off = {x for x, cover in enumerate(problem.covers) if cover.off_at_start}
    staged: dict[int, int] = {}
    for j, work in enumerate(problem.works):
        earliest = max([work.first_stage, *(staged[i] for i in work.after if i in staged)])
        if problem.present[0, j]:
            staged[j] = rng.randint(earliest, max(earliest, work.last_stage))
    for t, test in enumerate(problem.tests):
        # Works stand after those they come after, because these have lower numbers.
        for j in sorted(j for j, stage in staged.items() if stage == t):
            for x in _line(problem, problem.works[j].covers):
                if x not in off:
                    queue.append((f"off:{problem.covers[x].key}", "off", x, t))
                    off.add(x)
            queue.append((problem.works[j].key, problem.works[j].kind, j, t))
        for x in reversed(range(len(problem.covers))):
            last = t == len(problem.tests) - 1
            if x in off and (last or set(_line(problem, (x,))) & set(test.covers_on)):
                queue.append((f"on:{problem.covers[x].key}", "on", x, t))
                off.discard(x)
        queue.append((test.key, "gate", t, t))
    room = _room(problem)
    day, minute = 0, 0
    ended: dict[tuple[str, int], int] = {}
    steps: list[Step] = []
    for key, kind, index, stage in queue:
        minutes, release, helper, whole = 0, day, False, False
        if kind in ("off", "on"):
            minutes = int((problem.off_minutes if kind == "off" else problem.on_minutes)[0, index])
            helper = problem.covers[index].helper
        elif kind == "gate":
            minutes, helper = int(problem.test_minutes[0, index]), problem.tests[index].helper
            release = max(release, int(problem.test_release_day[0, index]))
            cures = [j for j, at in staged.items() if at == stage]
            release = max([release, *(ended["work", j] + problem.works[j].cure_days for j in cures)])
        else:
            work = problem.works[index]
            minutes, helper, whole = int(problem.minutes[0, index]), work.helper, not work.may_split
            release = max(release, int(problem.release_day[0, index]))
            for i in work.after:
                if i in staged:
                    release = max(release, ended["work", i] + problem.works[i].cure_days)
            for held in problem.held:
                if held.work == index:
                    release = max(release, ended["gate", held.test] + int(held.days[0]))
        if release > day:
            day, minute = release, 0
        while True:
            fits = minutes == 0 or room[day] - minute >= (minutes if whole and minutes <= max(room[day:]) else 1)
            if fits and not (helper and problem.helper_day is not None and not problem.helper_day[day]):
                break
            day, minute = day + 1, 0
        pieces = []
        left = minutes
        while left:
            if minute >= room[day]:
                day, minute = day + 1, 0
                continue
            turn = 0 if problem.begin_minute is None else int(problem.begin_minute[day])
            now = min(left, room[day] - minute)
            pieces.append(Piece(day=day, from_minute=turn + minute, to_minute=turn + minute + now))
            minute, left = minute + now, left - now
        steps.append(Step(key=key, kind=kind, stage=stage, pieces=tuple(pieces), day=day))
        ended["gate" if kind == "gate" else "cover" if kind in ("off", "on") else "work", index] = day
    return Course(steps=tuple(steps), finish_day=day)


def _line(problem: Problem, covers: tuple[int, ...]) -> list[int]:
    """The covers and all over them, the outermost first (they have the lower numbers in random problems)."""
    found = set(covers)
    for x in reversed(range(len(problem.covers))):
        if x in found:
            found |= set(problem.covers[x].under)
    return sorted(found)


def _room(problem: Problem) -> list[int]:
    """Minutes worked on each day: docs/simulator.md, section Time."""
    share = int(problem.hours.attendance_permille[0])
    planned = problem.hours.calendar.cumulative_minutes.tolist()
    begins = [-(-minutes * share // 1000) for minutes in planned]
    begins[-1] = planned[-1] * share // 1000
    return [b - a for a, b in zip(begins, begins[1:], strict=False)]
