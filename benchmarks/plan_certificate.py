"""The best running order there is for one scenario of usual figures, by OR-Tools CP-SAT: a certificate for the search.

    pip install -r benchmarks/requirements.txt        # not needed by the program itself

Only benchmarks use it. The model: one pair of hands (no two intervals overlap); each work in one stretch between two
tests; what lies off and on follows from the stretches (a cover comes off in a stretch in which something behind it is
done, and goes on before a test that wants it on); waits that begin with an event (cures, held orders) go through the
calendar as tables. Given the stretches, plan_dispatch.py lays the work out without the solver: from there comes the
hint, and with it the solver's answer is worked out once more.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from time import perf_counter, process_time

import numpy as np
from plan_dispatch import Facts, dispatched, latest_that_pays

from wreckwright.plan.check import check
from wreckwright.plan.types import Course, Piece, Problem, Step, StepKind, Weights

SCALE = 10
"""Weights are whole tenths in the solver."""


@dataclass(frozen=True, kw_only=True)
class Certificate:
    status: str
    """`OPTIMAL`: no running order is better; `FEASIBLE`: none better was found in time."""
    score: float
    """Of the best found; where plain dispatch lays its stretches out better, that."""
    bound: float
    """No running order is better than this."""
    stages: Mapping[str, int]
    reasons: int
    """What `plan.check` has against the solver's times: 0 if model and checker mean the same rules."""
    wall_s: float
    cpu_s: float


def certify(
    problem: Problem, stages: Mapping[str, int], *, weights: Weights | None = None, seconds: float = 10.0,
    workers: int = 2, seed: int = 1,
) -> Certificate:
    """Look for something better than `stages`, which is also the hint, and prove a bound.

    The finish is looked for up to `latest_that_pays`, so that nothing better is left out. The solver leaves its probing
    out and presolves once: at 150 jobs its usual preparation takes longer than the whole search.
    """
    from ortools.sat.python import cp_model

    weights = weights or Weights()
    facts = Facts(problem)
    hint = dispatched(facts, stages)
    horizon = latest_that_pays(problem, stages, weights=weights)
    model = cp_model.CpModel()
    works, covers, tests = problem.works, problem.covers, problem.tests
    n_tests = len(tests)
    hinted: list[tuple[object, int]] = []

    def moment(name: str, key: str, low: int = 0) -> object:
        variable = model.new_int_var(low, horizon, name)
        if key in hint.begin:
            hinted.append((variable, hint.begin[key]))
        return variable

    test_begin = [moment(f"test {t}", tests[t].key, facts.test_release[t]) for t in range(n_tests)]
    test_end = [test_begin[t] + facts.test_minutes[t] for t in range(n_tests)]
    intervals = [
        model.new_fixed_size_interval_var(test_begin[t], facts.test_minutes[t], f"test {t}") for t in range(n_tests)
    ]
    for t in range(n_tests - 1):
        model.add(test_end[t] <= test_begin[t + 1])

    begin: dict[int, object] = {}
    in_stretch: dict[int, dict[int, object]] = {}
    for j in facts.works:
        begin[j] = moment(f"work {j}", works[j].key, facts.release[j])
        intervals.append(model.new_fixed_size_interval_var(begin[j], facts.minutes[j], f"work {j}"))
        allowed = range(works[j].first_stage, works[j].last_stage + 1)
        in_stretch[j] = {t: model.new_bool_var(f"work {j} in {t}") for t in allowed}
        hinted += [(variable, int(stages[works[j].key] == t)) for t, variable in in_stretch[j].items()]
        model.add_exactly_one(in_stretch[j].values())
        for t, chosen in in_stretch[j].items():
            model.add(begin[j] + facts.minutes[j] <= test_begin[t]).only_enforce_if(chosen)
            if t:
                model.add(begin[j] >= test_end[t - 1]).only_enforce_if(chosen)
    for j in facts.works:
        for i in works[j].after:
            if i in begin:
                model.add(begin[i] + facts.minutes[i] <= begin[j])
                for t, chosen in in_stretch[i].items():
                    # Not before the stretch of what it comes after.
                    model.add_bool_or([at for s, at in in_stretch[j].items() if s >= t]).only_enforce_if(chosen)
    _calendar_waits(model, facts, begin, in_stretch, test_begin, test_end, horizon)

    movement: dict[tuple[int, int], object] = {}
    moved_minutes: list[list[object]] = [[] for _ in range(n_tests)]
    stage_index = {j: stages[works[j].key] for j in facts.works}
    wanted_hint, taken_hint, put_hint = facts.moves(stage_index)
    behind = {x: [j for j in facts.works if x in facts.opening[j]] for x in range(len(covers))}
    for x, cover in enumerate(covers):
        off_before: object = int(cover.off_at_start)
        was_off = cover.off_at_start
        for t in range(n_tests):
            users = [in_stretch[j][t] for j in behind[x] if t in in_stretch[j]]
            wanted: object = int(x in facts.opened_for_test[t])
            if not wanted and users:
                wanted = model.new_bool_var(f"cover {x} wanted in {t}")
                model.add_max_equality(wanted, users)
                hinted.append((wanted, int(x in wanted_hint[t])))
            elsewhere = (off_before, wanted)
            taken = _and_not(model, wanted, off_before, f"cover {x} off in {t}", hinted, int(x in taken_hint[t]))
            is_off = _or(model, *elsewhere, f"cover {x} open in {t}", hinted, int(was_off or x in wanted_hint[t]))
            put: object = is_off if x in facts.closing[t] else 0
            was_off = (was_off or x in wanted_hint[t]) and x not in facts.closing[t]
            off_before = 0 if x in facts.closing[t] else is_off
            for kind, there, minutes in (("off", taken, facts.off[x]), ("on", put, facts.on[x])):
                if isinstance(there, int) and not there:
                    continue
                when = moment(f"{kind} {x} in {t}", f"{kind}:{cover.key}:{t}")
                movement[x if kind == "off" else ~x, t] = (there, when)
                intervals.append(
                    model.new_optional_fixed_size_interval_var(when, minutes, there, f"{kind} {x} in {t}")
                )
                moved_minutes[t].append(minutes * there)
                model.add(when + minutes <= test_begin[t]).only_enforce_if(there)
                if t:
                    model.add(when >= test_end[t - 1]).only_enforce_if(there)
            for j in behind[x]:
                if t not in in_stretch[j]:
                    continue
                chosen = in_stretch[j][t]
                if (x, t) in movement:
                    there, when = movement[x, t]
                    model.add(when + facts.off[x] <= begin[j]).only_enforce_if([chosen, there])
                if (~x, t) in movement:
                    _, when = movement[~x, t]
                    model.add(begin[j] + facts.minutes[j] <= when).only_enforce_if(chosen)
            if (x, t) in movement and (~x, t) in movement:
                (there, first), (_, then) = movement[x, t], movement[~x, t]
                model.add(first + facts.off[x] <= then).only_enforce_if(there)
    for x, cover in enumerate(covers):
        for u in cover.under:
            for t in range(n_tests):
                for above, beneath, minutes in (((u, t), (x, t), facts.off[u]), ((~x, t), (~u, t), facts.on[x])):
                    if above in movement and beneath in movement:
                        (a, first), (b, then) = movement[above], movement[beneath]
                        model.add(first + minutes <= then).only_enforce_if([a, b])
    model.add_no_overlap(intervals)
    fixed = sum(facts.minutes[j] for j in facts.works) + sum(facts.test_minutes)
    _tails(model, facts, in_stretch, test_end, moved_minutes)
    finish = round(SCALE * weights.finish) * test_end[-1]
    first = round(SCALE * weights.first_test) * test_end[0]
    model.minimize(finish + first + round(SCALE * weights.hands_on) * (fixed + sum(map(sum, moved_minutes))))
    for variable, value in hinted:
        model.add_hint(variable, value)

    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = seconds
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    solver.parameters.cp_model_probing_level = 0
    solver.parameters.max_presolve_iterations = 1
    wall, cpu = perf_counter(), process_time()
    status = solver.solve(model)
    wall, cpu = perf_counter() - wall, process_time() - cpu
    name = solver.status_name(status)
    if name not in ("OPTIMAL", "FEASIBLE"):
        return Certificate(
            status=name, score=hint.score(weights), bound=solver.best_objective_bound / SCALE, stages=dict(stages),
            reasons=0, wall_s=wall, cpu_s=cpu,
        )
    found = {
        works[j].key: next(t for t, chosen in in_stretch[j].items() if solver.boolean_value(chosen))
        for j in facts.works
    }
    times: list[tuple[int, str, StepKind, int, int]] = [
        *((solver.value(begin[j]), works[j].key, works[j].kind, in_t, facts.minutes[j])
          for j in facts.works for in_t in [found[works[j].key]]),
        *((solver.value(test_begin[t]), tests[t].key, "gate", t, facts.test_minutes[t]) for t in range(n_tests)),
    ]
    for (x, t), (there, when) in movement.items():
        if there if isinstance(there, int) else solver.boolean_value(there):
            kind, index = ("off", x) if x >= 0 else ("on", ~x)
            minutes = (facts.off if x >= 0 else facts.on)[index]
            times.append((solver.value(when), f"{kind}:{covers[index].key}", kind, t, minutes))
    return Certificate(
        status=name, score=min(solver.objective_value / SCALE, dispatched(facts, found).score(weights)),
        bound=solver.best_objective_bound / SCALE, stages=found, reasons=len(check(problem, _course(facts, times))),
        wall_s=wall, cpu_s=cpu,
    )


def _course(facts: Facts, times: list[tuple[int, str, StepKind, int, int]]) -> Course:
    """The solver's times on the calendar: (begin, key, kind, stretch, minutes)."""
    steps = []
    for begin, key, kind, stretch, minutes in sorted(times, key=lambda entry: (entry[0], entry[0] + entry[4])):
        pieces, clock = [], begin
        day = int(np.searchsorted(facts.start, begin, side="right")) - 1
        while clock < begin + minutes:
            until = min(begin + minutes, facts.start[day + 1])
            if until > clock:
                opens = facts.start[day]
                pieces.append(Piece(day=day, from_minute=clock - opens, to_minute=until - opens))
            clock, day = until, day + 1
        steps.append(Step(key=key, kind=kind, stage=stretch, pieces=tuple(pieces), day=pieces[-1].day))
    return Course(steps=tuple(steps), finish_day=steps[-1].day)


def _tails(model, facts, in_stretch, test_end, moved_minutes) -> None:  # type: ignore[no-untyped-def]
    """What is known to the eye: before a test lies all that is done before it, and behind each release lies all work
    that is released later, whatever the order."""
    for t, end in enumerate(test_end):
        due = {
            j: sum(chosen for s, chosen in chosen_in.items() if s <= t)
            for j, chosen_in in in_stretch.items() if min(chosen_in) <= t
        }
        moves = sum(sum(moved_minutes[s]) for s in range(t + 1))
        work = sum(facts.minutes[j] * amount for j, amount in due.items())
        model.add(end >= work + moves + sum(facts.test_minutes[: t + 1]))
        for release in sorted({facts.release[j] for j in due if facts.release[j]}):
            later = [facts.minutes[j] * amount for j, amount in due.items() if facts.release[j] >= release]
            must = [j for j, chosen_in in in_stretch.items() if facts.release[j] >= release and max(chosen_in) <= t]
            if must:
                model.add(end >= release + sum(later) + facts.test_minutes[t])


def _calendar_waits(model, facts, begin, in_stretch, test_begin, test_end, horizon) -> None:  # type: ignore[no-untyped-def]
    """Cures and held orders: from the day on which something ends, so many days, to the first minute of that day."""
    problem = facts.problem
    days = facts.day(horizon) + 2
    longest = max([0, *(work.cure_days for work in problem.works), *(int(held.days[0]) for held in problem.held)])
    table = [facts.start[min(day, len(facts.start) - 1)] for day in range(days + longest + 2)]
    table = [min(value, horizon + 1) for value in table]

    def free_again(end: object, after_days: int, name: str) -> object:
        day = model.new_int_var(0, days, f"{name}: day")
        opens, shuts = (model.new_int_var(0, horizon + 1, f"{name}: {word}") for word in ("from", "until"))
        model.add_element(day, table[: days + 1], opens)
        model.add_element(day, table[1 : days + 2], shuts)
        model.add(opens < end)
        model.add(end <= shuts)
        free = model.new_int_var(0, horizon + 1, f"{name}: free")
        model.add_element(day, table[after_days : after_days + days + 1], free)
        return free

    for i in facts.works:
        cure = problem.works[i].cure_days
        if not cure:
            continue
        free = free_again(begin[i] + facts.minutes[i], cure, f"cure {i}")
        for j in facts.works:
            if i in problem.works[j].after:
                model.add(begin[j] >= free)
        for t, chosen in in_stretch[i].items():
            model.add(test_begin[t] >= free).only_enforce_if(chosen)
    cache: dict[tuple[int, int], object] = {}
    for held in problem.held:
        if held.work in begin:
            key = held.test, int(held.days[0])
            if key not in cache:
                cache[key] = free_again(test_end[held.test], key[1], f"held {key}")
            model.add(begin[held.work] >= cache[key])


def _and_not(model, a, b, name, hinted, hint):  # type: ignore[no-untyped-def]
    """`a` and not `b`; either may be a plain 0 or 1."""
    if isinstance(a, int) and isinstance(b, int):
        return int(a and not b)
    if isinstance(a, int):
        return b.negated() if a else 0
    if isinstance(b, int):
        return 0 if b else a
    both = model.new_bool_var(name)
    model.add_bool_or([a.negated(), b, both])
    model.add_implication(both, a)
    model.add_implication(both, b.negated())
    hinted.append((both, hint))
    return both


def _or(model, a, b, name, hinted, hint):  # type: ignore[no-untyped-def]
    if isinstance(a, int):
        return 1 if a else b
    if isinstance(b, int):
        return 1 if b else a
    either = model.new_bool_var(name)
    model.add_max_equality(either, [a, b])
    hinted.append((either, hint))
    return either
