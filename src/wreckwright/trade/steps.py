"""From the tables of steps to the jobs that a remedy makes for one component.

A row of `job_steps` is written for one component, for a set of components that are worked on alike (`step_sets`), or,
with an empty name, for all the rest. A component takes its own rows, else those of its set, else those for the rest;
each way (`buy`, `mend`) for itself.
"""

from __future__ import annotations

import difflib
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any

from msgspec.structs import replace

from wreckwright.errors import TradeDataError
from wreckwright.trade.types import JobStep, Trade

MAIN_STEP: Mapping[str, str] = {"buy": "fit", "mend": "mend"}
"""Way -> the step that puts the component right."""
WAYS = ("buy", "mend")


def lay_out_steps(
    rows: Iterable[Mapping[str, Any]], sets: Mapping[str, str], components: Collection[str]
) -> dict[tuple[str, str], tuple[JobStep, ...]]:
    """(component or "", way) -> its steps in their order, from rows as they stand in the tables.

    `sets`: component -> name of its set. Components that take the rows for all the rest have no key of their own.
    Raises `TradeDataError` for rows or sets that belong to nothing.

    >>> row = dict(of="small", way="buy", step="fit", order=1, kind="fit", words="fit {part}", share=1.0,
    ...            wants_part=True, uncovered=True, basis="judgement")
    >>> sorted(lay_out_steps([row], {"horn": "small"}, ["horn", "seat"]))
    [('horn', 'buy')]
    """
    written: dict[tuple[str, str], list[JobStep]] = {}
    for row in rows:
        cells = dict(row)
        written.setdefault((cells.pop("of"), cells["way"]), []).append(JobStep(component="", **cells))
    _check_names({name for name, _ in written}, sets, components)
    in_order = {key: tuple(sorted(steps, key=lambda step: step.order)) for key, steps in written.items()}
    found: dict[tuple[str, str], tuple[JobStep, ...]] = {}
    for component in ("", *components):
        for way in WAYS:
            steps = in_order.get((component, way), ())
            if not steps and component:
                steps = in_order.get((sets[component], way), ()) if component in sets else ()
            if steps:
                found[component, way] = tuple(replace(step, component=component) for step in steps)
    return found


def _check_names(named: set[str], sets: Mapping[str, str], components: Collection[str]) -> None:
    held = set(sets.values())
    for component, name in sets.items():
        if component not in components:
            raise _unknown(f"step_sets, row {component}: component", component, components, "component")
        if name not in named or name in components:
            raise _unknown(f"step_sets, row {component}: set", name, named - set(components), "set of job_steps")
    for name in sorted(named):
        if name and name not in components and name not in held:
            raise _unknown("job_steps: of", name, {*components, *held}, "component or set of step_sets")


def _unknown(place: str, name: str, known: Collection[str], kind: str) -> TradeDataError:
    near = difflib.get_close_matches(name, list(known), n=1, cutoff=0.4)
    return TradeDataError(
        f"{place} is {name!r}, which is no {kind}", f"a {kind}",
        f"Did you mean {near[0]!r}?" if near else "Correct the name, or add the row that it stands for",
    )


def steps_of(trade: Trade, component: str, way: str) -> tuple[JobStep, ...]:
    """The steps of one component and way (`buy` or `mend`), in their order; their shares sum to 1.

    What is only done with pieces to carry over is left out where the component has none, and its share goes to the
    main step. Raises `KeyError` for an unknown way.

    >>> from wreckwright.trade.load import load_trade
    >>> [step.step for step in steps_of(load_trade(), "lever_clutch", "buy")]
    ['try_on', 'carry_over', 'fit', 'test']
    """
    main = MAIN_STEP[way]
    steps = trade.job_steps.get((component, way)) or trade.job_steps["", way]
    pieces = trade.carry_overs.get(component)
    if pieces is not None and pieces.pieces:
        return steps
    spare = sum(step.share for step in steps if step.only_with_pieces)
    kept = tuple(step for step in steps if not step.only_with_pieces)
    return tuple(replace(step, share=step.share + spare) if step.step == main else step for step in kept)


def step_words(step: JobStep, *, part: str, pieces: Sequence[str] = ()) -> str:
    """The step in a mechanic's words, for the component called `part` and the pieces that are carried over.

    >>> from wreckwright.trade.load import load_trade
    >>> step_words(steps_of(load_trade(), "horn", "buy")[-1], part="Horn")
    'fit horn'
    """
    lower = part[:1].lower() + part[1:]
    listed = f"{', '.join(pieces[:-1])} and {pieces[-1]}" if len(pieces) > 1 else "".join(pieces)
    return step.words.replace("{part}", lower).replace("{pieces}", listed)
