"""The search for a better plan: simulated annealing over the stretches, several changes scored at once.

From one plan a batch of changed ones is made and scored together. Of those that are taken by the usual rule the best
becomes the plan; the others that were better too are tried on top of it, all at once, in the next batch.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import numpy.typing as npt

from wreckwright.futures.rebuild import IntArray
from wreckwright.plan.closed_form import stage_names, stage_row
from wreckwright.plan.moves import Change, Luck, Moves
from wreckwright.plan.scorer import scores
from wreckwright.plan.tables import Table, table_of
from wreckwright.plan.types import USUAL_WEIGHTS, Problem, Weights

BATCH = 16
HOT_SHARE = 0.004
"""Temperature at the beginning, as share of the score: a plan worse by so much is taken with chance 1/e."""
COOLING = 0.01
"""Temperature at the end over that at the beginning."""


@dataclass(frozen=True, kw_only=True)
class Found:
    stages: Mapping[str, int]
    """Key of each work -> its stretch; the best plan seen, at worst the one that was begun with."""
    score: float
    score_before: float
    moves: int
    """Changes scored."""


def improve(
    problem: Problem, stages: Mapping[str, int], *, weights: Weights = USUAL_WEIGHTS, moves: int = 4000, seed: int = 0,
    tell: Callable[[float, float], None] | None = None, stop: Callable[[], bool] | None = None,
) -> Found:
    """The best plan of `moves` changes, beginning with `stages`, judged by `weights` on the scenarios of `problem`.

    Pure but for `tell(share done, best score)` and `stop()` (true: give back what there is), which are called between
    batches: the same arguments give the same plan. Works that stand in a wrong order are put right first.
    Raises: AnswerError if a work has no stretch, or one outside its range.
    """
    table, steps = table_of(problem), Moves(problem)
    current: IntArray = np.array(steps.repaired(stage_row(problem, stages).tolist()), np.int32)
    score = float(judged(table, current[None], weights)[0])
    best, best_score, before = current, score, score
    luck = Luck(seed)
    hot, done = HOT_SHARE * score, 0
    together: Change = {}
    while done < moves and not steps.none and not (stop is not None and stop()):
        temperature = hot * COOLING ** (done / moves)
        plain = current.tolist()
        changes = [together] if together else []
        while len(changes) < min(BATCH, moves - done):
            changes.append(steps.draw(plain, luck))
        candidates = np.repeat(current[None], len(changes), axis=0)
        for row, change in zip(candidates, changes, strict=True):
            row[list(change)] = list(change.values())
        found = judged(table, candidates, weights)
        done += len(changes)
        taken = found - score < -temperature * np.log(luck.take(len(changes)))
        together = {}
        if taken.any():
            chosen = int(np.argmin(np.where(taken, found, np.inf)))
            together = _rest(steps, candidates[chosen], changes, chosen, found < score)
            current, score = candidates[chosen], float(found[chosen])
            if score < best_score:
                best, best_score = current, score
        if tell is not None:
            tell(done / moves, best_score)
    return Found(stages=stage_names(problem, best), score=best_score, score_before=before, moves=done)


def improve_from(
    problem: Problem, starts: Sequence[Mapping[str, int]], *, weights: Weights = USUAL_WEIGHTS, moves: int = 4000,
    seed: int = 0, tell: Callable[[float, float], None] | None = None, stop: Callable[[], bool] | None = None,
) -> Found:
    """The best plan of searches from several starts, among which `moves` are shared out evenly; `score_before` is that
    of the best start. The rest as `improve`.

    One long search may stay in the valley in which it began; two of half the length from far apart seldom both do.
    """
    each = moves // len(starts)
    found: list[Found] = []
    for n, start in enumerate(starts):
        before = min((one.score for one in found), default=math.inf)

        def told(share: float, score: float, n: int = n, before: float = before) -> None:
            if tell is not None:
                tell((n + share) / len(starts), min(score, before))

        found.append(improve(problem, start, weights=weights, moves=each, seed=seed, tell=told, stop=stop))
    best = min(found, key=lambda one: one.score)
    return replace(
        best, score_before=min(one.score_before for one in found), moves=sum(one.moves for one in found)
    )


def judge(problem: Problem, stages: Mapping[str, int], *, weights: Weights = USUAL_WEIGHTS) -> float:
    """Score of one plan, put into a right order first; what `improve` begins with."""
    right = Moves(problem).repaired(stage_row(problem, stages).tolist())
    return float(judged(table_of(problem), np.array([right], np.int32), weights)[0])


def judged(table: Table, stages: IntArray, weights: Weights) -> npt.NDArray[np.float64]:
    """[B] score of each plan of `stages` [B, J]; lower is better."""
    return scores(table, stages).weighed(weights, end=table.end, ends_at=table.problem.ends_at)


def _rest(
    steps: Moves, current: IntArray, changes: list[Change], chosen: int, better: npt.NDArray[np.bool_]
) -> Change:
    """The other changes that were better, as far as they touch different works and agree with each other."""
    touched = set(changes[chosen])
    together: Change = {}
    for n, change in enumerate(changes):
        if n != chosen and better[n] and touched.isdisjoint(change):
            wider = together | change
            if steps.keeps_order(current, wider):
                together = wider
                touched |= change.keys()
    return together
