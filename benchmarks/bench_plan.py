"""How good and how fast the running order is, on invented rebuilds of three sizes.

    PYTHONPATH=src python benchmarks/bench_plan.py [quality] [speed] [covers] [medians] [coverage] [records]

Without a name all six. `quality` needs OR-Tools (benchmarks/requirements.txt). What is measured:

- quality: the same one scenario of usual figures and the same score (finish + 0.3 first test + hands on), our search
  against the optimum where CP-SAT proves it within its time, else the best that it or five runs of the search find. All
  scores are worked out by plan_dispatch.py, which shares no code with the search.
- speed: a cold plan; and "this just snapped": one more job and one more order, the old plan repaired, 2,000 futures
  played, dates, what the end waits for, the list of the next evening.
- covers: minutes of taking covers off and putting them on in the planned course, against one job at a time and
  against all jobs behind the same covers together (as few openings as their stretches allow).
- medians: planned on scenarios against planned on usual figures alone: the first test on fresh futures.
- records: the example machines, everything from drawing 2,000 futures to tonight's list.
- coverage: how often fresh futures finish by the day of which it was said that half, or 8 in 10, would.

The courses of all plans are examined by `wreckwright.plan.check`. Results go to results/plan.json, with the load of the
computer: wall times on a busy one are too long, CPU seconds less so.
"""

from __future__ import annotations

import argparse
import json
import os
import statistics
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from time import perf_counter, process_time
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent))

from plan_certificate import certify
from plan_dispatch import played
from plan_generator import SEEDS, SIZES, Machine, SizeName, machine, worlds_of
from plan_measures import (
    clock_of,
    cover_minutes,
    cover_minutes_by_cover,
    cover_minutes_one_by_one,
    earliest,
    finish_days,
    next_evening,
    wilson,
)

from wreckwright.futures.binding import binding_shares
from wreckwright.futures.rebuild import FINISHED, Played, Rebuild, Worlds
from wreckwright.futures.simulate import simulate
from wreckwright.plan.check import check
from wreckwright.plan.make import MOVES, SEED, Planned, plan_of, policy_of
from wreckwright.plan.problem import usual_problem
from wreckwright.plan.search import Found, improve_from
from wreckwright.plan.types import Plan, Problem, Weights

EXAMPLES = Path(__file__).resolve().parent.parent / "examples"
RESULTS = Path(os.environ.get("PLAN_RESULTS", Path(__file__).resolve().parent / "results" / "plan.json"))
FUTURES = 2000
USUAL = Weights()
OTHER_SEEDS = (1, 2, 3, 4)
"""Of the search, besides its own: how much is luck."""
FRESH = 10_000
"""Added to a seed: futures that nothing was planned on."""


def quality(seconds: tuple[float, float]) -> dict[str, Any]:
    """Gap of the search to what CP-SAT proves or finds."""
    out: dict[str, Any] = {}
    sizes: tuple[tuple[SizeName, bool, float], ...] = (
        ("60/12/3", False, seconds[0]), ("60/12/3", True, seconds[0]), ("150/25/4", False, seconds[1]),
        ("150/25/4", True, seconds[1]), ("300/40/6", False, seconds[1]),
    )
    for name, cures, limit in sizes:
        rows = []
        for seed in SEEDS[name]:
            made = machine(SIZES[name], seed, cures=cures)
            problem = usual_problem(made.rebuild, None, worlds_of(made, seed, 500), made.policy)
            wall, cpu = perf_counter(), process_time()
            found = search(problem)
            wall, cpu = perf_counter() - wall, process_time() - cpu
            ours = played(problem, found.stages).score(USUAL)
            others = [search(problem, seed=other) for other in OTHER_SEEDS]
            hint = min([found, *others], key=lambda one: one.score)
            proof = certify(problem, hint.stages, seconds=limit)
            best = min(proof.score, played(problem, hint.stages).score(USUAL))
            gaps_of_seeds = [100.0 * (one.score / best - 1.0) for one in (found, *others)]
            rows.append({
                "seed": seed, "ours": ours, "said_by_the_search": found.score, "best": best, "status": proof.status,
                "bound": proof.bound, "reasons_against_the_solver": proof.reasons,
                "gap_percent": 100.0 * (ours / best - 1.0), "gaps_of_search_seeds_percent": gaps_of_seeds,
                "ours_wall_s": wall, "ours_cpu_s": cpu, "solver_wall_s": proof.wall_s, "solver_cpu_s": proof.cpu_s,
                "earliest": played(problem, earliest(problem)).score(USUAL),
            })
            print(f"  {name}{' with cures' * cures} seed {seed}: ours {ours:.1f}, best {best:.1f} "
                  f"({proof.status}, bound {proof.bound:.1f}, {proof.wall_s:.1f} s, {proof.cpu_s:.1f} s of CPU), gap "
                  f"{rows[-1]['gap_percent']:.3f} %, worst of {len(gaps_of_seeds)} search seeds "
                  f"{max(gaps_of_seeds):.3f} %, search {wall:.2f} s", flush=True)
        gaps = [row["gap_percent"] for row in rows]
        out[f"{name}, with cures" if cures else name] = {
            "limit_s": limit, "mean_bound_percent": statistics.mean(
                100.0 * (1.0 - row["bound"] / row["best"]) for row in rows
            ),
            "mean_gap_of_all_search_seeds_percent": statistics.mean(
                gap for row in rows for gap in row["gaps_of_search_seeds_percent"]
            ),
            "worst_gap_of_all_search_seeds_percent": max(max(row["gaps_of_search_seeds_percent"]) for row in rows),
            "proved": sum(row["status"] == "OPTIMAL" for row in rows), "of": len(rows),
            "mean_gap_percent": statistics.mean(gaps), "worst_gap_percent": max(gaps), "runs": rows,
        }
    return out


def speed(repeats: int) -> dict[str, Any]:
    out: dict[str, Any] = {}
    sizes: tuple[SizeName, ...] = ("60/12/3", "150/25/4", "300/40/6")
    for name in sizes:
        rows = []
        for seed in SEEDS[name][:3]:
            made, snapped = machine(SIZES[name], seed), machine(SIZES[name], seed, snapped=True)
            worlds, after = worlds_of(made, seed, FUTURES), worlds_of(snapped, seed, FUTURES)
            row: dict[str, Any] = {"seed": seed}
            cold, row["cold_s"] = _cold(made, worlds, repeats)
            row["cold_reasons"] = len(check(cold.problem_usual, cold.course))
            old = cold.plan
            runs = [_snapped_once(snapped, after, old) for _ in range(3 * repeats)]
            for which, kind in enumerate(("wall", "cpu")):
                row[f"snapped_{kind}_s"] = {
                    part: statistics.median(run[part][which] for run in runs) for part in runs[0]
                }
            fresh = worlds_of(snapped, seed + FRESH, FUTURES)
            policies = {
                "quick": plan_of(snapped.rebuild, None, after, snapped.policy, old=old, quick=True).policy,
                "cold": plan_of(snapped.rebuild, None, after, snapped.policy).policy,
                "not replanned": policy_of(old, snapped.rebuild, snapped.policy),
            }
            outcomes = {which: simulate(snapped.rebuild, fresh, policy) for which, policy in policies.items()}
            means = _means(snapped.rebuild, fresh, outcomes, USUAL)
            row["after_it_snapped"] = means
            row["snapped_least_wall_s"] = min(run["all"][0] for run in runs)
            row["quick_above_cold_percent"] = 100.0 * (means["quick"]["score"] / means["cold"]["score"] - 1.0)
            rows.append(row)
            print(f"  {name} seed {seed}: cold {statistics.median(row['cold_s']['wall']):.2f} s "
                  f"({statistics.median(row['cold_s']['cpu']):.2f} s of CPU), snapped, wall (CPU) s: "
                  + ", ".join(f"{part} {took:.3f} ({row['snapped_cpu_s'][part]:.3f})"
                              for part, took in row["snapped_wall_s"].items())
                  + f"; quick plan {row['quick_above_cold_percent']:.2f} % above a cold one", flush=True)
        out[name] = {
            "cold_wall_s": statistics.median(statistics.median(row["cold_s"]["wall"]) for row in rows),
            "cold_cpu_s": statistics.median(statistics.median(row["cold_s"]["cpu"]) for row in rows),
            "snapped_wall_s": statistics.median(row["snapped_wall_s"]["all"] for row in rows),
            "snapped_cpu_s": statistics.median(row["snapped_cpu_s"]["all"] for row in rows),
            "snapped_least_wall_s": statistics.median(row["snapped_least_wall_s"] for row in rows),
            "cold_least_wall_s": statistics.median(min(row["cold_s"]["wall"]) for row in rows),
            "quick_above_cold_percent": statistics.mean(row["quick_above_cold_percent"] for row in rows), "runs": rows,
        }
    return out


def _snapped_once(snapped: Machine, worlds: Worlds, old: Plan) -> dict[str, tuple[float, float]]:
    """What one answer after a surprise takes, part by part: wall and CPU seconds."""
    took: dict[str, tuple[float, float]] = {}
    marks = [(perf_counter(), process_time())]

    def part(name: str) -> None:
        marks.append((perf_counter(), process_time()))
        took[name] = marks[-1][0] - marks[-2][0], marks[-1][1] - marks[-2][1]

    plan = plan_of(snapped.rebuild, None, worlds, snapped.policy, old=old, quick=True)
    part("plan")
    outcome = simulate(snapped.rebuild, worlds, plan.policy, ends=True)
    part("futures")
    np.percentile(finish_days(outcome), (50, 80), method="inverted_cdf")
    binding_shares(snapped.rebuild, worlds, plan.policy, outcome)
    part("what the end waits for")
    next_evening(plan.course)
    part("next evening")
    took["all"] = marks[-1][0] - marks[0][0], marks[-1][1] - marks[0][1]
    return took


def covers() -> dict[str, Any]:
    out: dict[str, Any] = {}
    sizes: tuple[SizeName, ...] = ("60/12/3", "150/25/4", "300/40/6")
    for name in sizes:
        rows = []
        for seed in SEEDS[name][:5]:
            made = machine(SIZES[name], seed)
            plan = plan_of(made.rebuild, None, worlds_of(made, seed, FUTURES), made.policy)
            problem = plan.problem_usual
            one, batch = cover_minutes_one_by_one(problem), cover_minutes_by_cover(problem)
            rows.append({
                "seed": seed, "planned": cover_minutes(plan.course), "one_job_at_a_time": one, "batch_by_cover": batch,
                "below_one_percent": 100.0 * (1.0 - cover_minutes(plan.course) / one),
                "below_batch_percent": 100.0 * (1.0 - cover_minutes(plan.course) / batch),
                "reasons": len(check(problem, plan.course)),
            })
            print(f"  {name} seed {seed}: planned {rows[-1]['planned'] / 60:.1f} h, one job at a time {one / 60:.1f} h "
                  f"(-{rows[-1]['below_one_percent']:.0f} %), by cover {batch / 60:.1f} h "
                  f"(-{rows[-1]['below_batch_percent']:.0f} %), reasons {rows[-1]['reasons']}", flush=True)
        out[name] = {
            "below_one_percent": statistics.mean(row["below_one_percent"] for row in rows),
            "least_below_one_percent": min(row["below_one_percent"] for row in rows),
            "below_batch_percent": statistics.mean(row["below_batch_percent"] for row in rows),
            "least_below_batch_percent": min(row["below_batch_percent"] for row in rows), "runs": rows,
        }
    return out


def medians() -> dict[str, Any]:
    """Planned on scenarios against planned on usual figures alone, both searched as hard, on the same fresh futures."""
    out: dict[str, Any] = {}
    cases: dict[str, tuple[SizeName, Weights, float]] = {
        "60/12/3": ("60/12/3", USUAL, 1.0), "150/25/4": ("150/25/4", USUAL, 1.0), "300/40/6": ("300/40/6", USUAL, 1.0),
        "150/25/4, first test counts 1.5": ("150/25/4", Weights(first_test=1.5), 1.0),
        "150/25/4, waits more certain": ("150/25/4", USUAL, 0.75),
    }
    for title, (name, weights, wait_spread) in cases.items():
        rows = []
        for seed in SEEDS[name][:5]:
            made = machine(SIZES[name], seed)
            worlds, fresh = (
                worlds_of(made, which, FUTURES, wait_spread=wait_spread) for which in (seed, seed + FRESH)
            )
            on_scenarios = plan_of(made.rebuild, None, worlds, made.policy, weights=weights)
            problem = on_scenarios.problem_usual
            stages = search(problem, weights).stages
            order = on_scenarios.plan.order
            policies = {
                "scenarios": on_scenarios.policy,
                "medians": policy_of(Plan(stages=with_rest(stages, on_scenarios), order=order), made.rebuild,
                                     made.policy),
                "as late as allowed": policy_of(
                    Plan(stages={**on_scenarios.plan.stages, **{w.key: w.last_stage for w in problem.works}},
                         order=order), made.rebuild, made.policy),
                "as early as allowed": made.policy,
            }
            outcomes = {which: simulate(made.rebuild, fresh, policy) for which, policy in policies.items()}
            row: dict[str, Any] = {"seed": seed, **_means(made.rebuild, fresh, outcomes, weights)}
            for label, key in (("earlier_percent", "first_test_minutes"), ("end_earlier_percent", "finish_minutes"),
                               ("better_score_percent", "score")):
                row[label] = 100.0 * (1.0 - row["scenarios"][key] / row["medians"][key])
            row["better_than_habit_percent"] = 100.0 * (
                1.0 - row["scenarios"]["score"] / row["as early as allowed"]["score"]
            )
            # Nothing can have its first test sooner than what does all else later.
            row["most_earlier_percent"] = 100.0 * (
                1.0 - row["as late as allowed"]["first_test_minutes"] / row["medians"]["first_test_minutes"]
            )
            rows.append(row)
            print(f"  {title}, seed {seed}: first test, minutes: " + ", ".join(
                f"{which} {row[which]['first_test_minutes']:.0f} (end {row[which]['finish_minutes']:.0f}, hands on "
                f"{row[which]['hands_on_minutes']:.0f})" for which in outcomes
            ) + f"; first test earlier by {row['earlier_percent']:.1f} % (most there is "
                f"{row['most_earlier_percent']:.1f} %), end by {row['end_earlier_percent']:.1f} %, score better by "
                f"{row['better_score_percent']:.1f} %", flush=True)
        out[title] = {
            label: {"mean": statistics.mean(row[label] for row in rows), "least": min(row[label] for row in rows)}
            for label in ("earlier_percent", "most_earlier_percent", "end_earlier_percent", "better_score_percent",
                          "better_than_habit_percent")
        } | {"runs": rows}
    return out


def _means(
    rebuild: Rebuild, fresh: Worlds, outcomes: Mapping[str, Played], weights: Weights
) -> dict[str, dict[str, float]]:
    """Over the futures that all of `outcomes` finish (pass the first test); own working minutes, and days."""
    passed = np.all([outcome.gate_day[:, 0] >= 0 for outcome in outcomes.values()], axis=0)
    ended = np.all([outcome.status == FINISHED for outcome in outcomes.values()], axis=0)
    found: dict[str, dict[str, float]] = {}
    for which, outcome in outcomes.items():
        first = float(clock_of(rebuild, fresh, outcome.gate_day[:, 0])[passed].mean())
        finish, hands_on = float(outcome.clock[ended].mean()), float(outcome.hands_on_minutes[ended].mean())
        found[which] = {
            "first_test_minutes": first, "first_test_days": float(outcome.gate_day[passed, 0].mean()),
            "finish_minutes": finish, "finish_days": float(outcome.day[ended].mean()), "hands_on_minutes": hands_on,
            "score": weights.finish * finish + weights.first_test * first + weights.hands_on * hands_on,
        }
    return found


def coverage() -> dict[str, Any]:
    """Dates said from 2,000 futures, the plan made on some of them; fresh ones of the same law."""
    out: dict[str, Any] = {}
    sizes: tuple[SizeName, ...] = ("60/12/3", "150/25/4")
    for name in sizes:
        shares: dict[str, list[float]] = {"P50": [], "P80": []}
        runs = []
        for seed in SEEDS[name][:5]:
            made = machine(SIZES[name], seed)
            worlds = worlds_of(made, seed, FUTURES)
            plan = plan_of(made.rebuild, None, worlds, made.policy)
            days = finish_days(simulate(made.rebuild, worlds, plan.policy))
            fresh = finish_days(simulate(made.rebuild, worlds_of(made, seed + FRESH, FUTURES), plan.policy))
            run: dict[str, Any] = {"seed": seed, "fresh": len(fresh)}
            for label, quantile in (("P50", 50), ("P80", 80)):
                said = float(np.percentile(days, quantile, method="inverted_cdf"))
                share = float((fresh <= said).mean())
                run[label] = {"day": said, "share": share, "interval": wilson(share, len(fresh))}
                shares[label].append(share)
            runs.append(run)
            print(f"  {name} seed {seed}: " + "; ".join(
                f"{label} day {run[label]['day']:.0f}, reached in {100 * run[label]['share']:.1f} % "
                f"({100 * run[label]['interval'][0]:.1f} to {100 * run[label]['interval'][1]:.1f}) of {len(fresh)}"
                for label in ("P50", "P80")), flush=True)
        out[name] = {label: {"mean_share": statistics.mean(many), "least": min(many), "most": max(many)}
                     for label, many in shares.items()} | {"runs": runs}
    return out


def search(problem: Problem, weights: Weights = USUAL, *, seed: int = SEED) -> Found:
    """As a cold plan does it: half from everything early, half from everything late."""
    late = {work.key: work.last_stage for work in problem.works}
    return improve_from(problem, (earliest(problem), late), weights=weights, moves=MOVES, seed=seed)


def records(repeats: int) -> dict[str, Any]:
    """The example machines from their records: everything from drawing to tonight's list, cold and after a change."""
    # Here, so that `quality` also runs where only the numeric libraries and the solver are.
    from wreckwright.acts.ask import Question, open_machine
    from wreckwright.acts.plan_ahead import plan_ahead
    from wreckwright.answers.plan_types import RunningOrder
    from wreckwright.answers.tonight import tonight

    rows = []
    for name in ("sorrel", "bramble", "magpie"):
        opened = open_machine(Question(machine=EXAMPLES / f"{name}.toml", n_futures=FUTURES))
        row: dict[str, Any] = {"machine": name}
        old: RunningOrder | None = None
        for which in ("cold", "quick"):
            took: list[tuple[float, float]] = []
            for _ in range(repeats):
                wall, cpu = perf_counter(), process_time()
                ahead = plan_ahead(opened.known, opened.trade, n=FUTURES, old=old if which == "quick" else None)
                answer = ahead.running_order()
                tonight(ahead.evening(), 2.0)
                took.append((perf_counter() - wall, process_time() - cpu))
            old = answer
            wall, cpu = (statistics.median(times) for times in zip(*took, strict=True))
            row[which] = {"wall_s": wall, "cpu_s": cpu}
        row["slots"], row["works"] = len(ahead.futures.rebuild.slots), len(ahead.planned.problem_usual.works)
        row["reasons"] = len(answer.broken)
        row["cover_hours"], row["cover_hours_one_by_one"] = answer.cover_hours, answer.cover_hours_one_by_one
        rows.append(row)
        print(f"  {name}: {row['slots']} slots, {row['works']} works; cold {row['cold']['wall_s']:.2f} s "
              f"({row['cold']['cpu_s']:.2f} s of CPU), with the old plan {row['quick']['wall_s']:.2f} s "
              f"({row['quick']['cpu_s']:.2f}); covers {row['cover_hours']:.1f} h, one job at a time "
              f"{row['cover_hours_one_by_one']:.1f} h; reasons {row['reasons']}", flush=True)
    return {"runs": rows}


def with_rest(stages: Mapping[str, int], plan: Planned) -> dict[str, int]:
    """Follow-ups, of which the usual figures know nothing, as in the plan on scenarios."""
    absent = {w.key for j, w in enumerate(plan.problem_usual.works) if not plan.problem_usual.present[0, j]}
    return {key: plan.plan.stages[key] if key in absent else stage for key, stage in stages.items()}


def _cold(made: Machine, worlds: Worlds, repeats: int) -> tuple[Planned, dict[str, list[float]]]:
    took: dict[str, list[float]] = {"wall": [], "cpu": []}
    for _ in range(repeats):
        wall, cpu = perf_counter(), process_time()
        found = plan_of(made.rebuild, None, worlds, made.policy)
        took["wall"].append(perf_counter() - wall)
        took["cpu"].append(process_time() - cpu)
    return found, took


def pace() -> dict[str, float]:
    """Load, and how long ten million additions in plain Python take right now."""
    before, total = perf_counter(), 0
    for i in range(10_000_000):
        total += i
    return {"load": os.getloadavg()[0], "cores": float(os.cpu_count() or 1), "plain_loop_s": perf_counter() - before}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    names = ("quality", "speed", "covers", "medians", "coverage", "records")
    parser.add_argument("parts", nargs="*", choices=[*names, []])
    parser.add_argument("--seconds", type=float, nargs=2, default=(10.0, 30.0), help="of the solver: 60 and 150 jobs")
    parser.add_argument("--repeats", type=int, default=3)
    options = parser.parse_args()
    parts: dict[str, Callable[[], dict[str, Any]]] = {
        "quality": lambda: quality(tuple(options.seconds)), "speed": lambda: speed(options.repeats), "covers": covers,
        "medians": medians, "coverage": coverage, "records": lambda: records(options.repeats),
    }
    results = json.loads(RESULTS.read_text()) if RESULTS.exists() else {}
    for part in options.parts or parts:
        before = pace()
        print(f"{part}: load {before['load']:.2f} on {before['cores']:.0f} cores, a plain loop of 10 million takes "
              f"{before['plain_loop_s']:.2f} s", flush=True)
        results[part] = {"before": before, **parts[part](), "after": pace()}
        RESULTS.write_text(json.dumps(results, indent=1) + "\n")


if __name__ == "__main__":
    main()
