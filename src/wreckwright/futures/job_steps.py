"""From one thing to put right to its jobs: taking off, trying on, moving pieces over, fitting, testing.

The steps and their shares of the minutes are the trade's (`JobStep`); rows of the record that stand for a step say what
is done of it already and what the owner thinks it takes. All steps of one remedy share its luck (`SlotPlan.luck`): a
seized bolt makes the whole of it slow, so what they take together is spread as widely as the remedy itself.
"""

from __future__ import annotations

from dataclasses import replace

from msgspec.structs import replace as row_with

from wreckwright.futures.job_minutes import LEAST_MINUTES_LEFT, minutes_left
from wreckwright.futures.need_types import Need
from wreckwright.futures.rows import Rows, gate_id_of
from wreckwright.futures.supplies import Band3, scaled
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.known import Known, name_shown
from wreckwright.record.pace import way_of
from wreckwright.record.types import Batch, Job
from wreckwright.trade.graph import opening_order
from wreckwright.trade.steps import MAIN_STEP, step_words, steps_of
from wreckwright.trade.types import JobStep, Trade

PROVING = frozenset({"check", "test", "adjust"})
"""Kinds of step that are made with everything back in its place, unless the trade data say otherwise."""
IN_ONE_GO = frozenset({"check", "test"})
"""Kinds of step that are not left half done at the end of an evening: a measurement is begun anew the next time (common
practice)."""


def steps_of_need(
    whole: Need, *, known: Known, trade: Trade, rows: Rows, missing: bool = False, fitted: bool = False,
    batch: Batch | None = None, after_main: bool = False,
) -> tuple[Need, ...]:
    """The steps of one remedy, in their order, without those that are done.

    `whole`: the remedy as one need, with all its minutes (before pace by kind and before what rows of steps say),
    money, parts and covers, and the owner's mending job if there is one. `missing`: there is nothing to take off, and
    no piece to move over. `fitted`: the part is on already. `batch`: the one with which the component goes.
    `after_main`: the component has been put right; only what comes after that.
    """
    way = way_of(whole.remedy)
    written = list(steps_of(trade, whole.component, way))
    main = next(at for at, step in enumerate(written) if step.step == MAIN_STEP[way])
    skipped = frozenset(
        step.step for step in written[:main]
        if fitted or (missing and (not step.wants_part or step.only_with_pieces))
    )
    spare = sum(step.share for step in written if step.step in skipped)
    written[main] = row_with(written[main], share=written[main].share + spare)
    main_row = rows.standing.get(whole.key)
    if main_row is not None and main_row.state == "proved":
        return ()
    # Whoever says that it is fitted need not say that it was taken off and measured before.
    through = main + 1 if after_main or rows.done(whole.key) else 0
    gone = skipped | _done_elsewhere(written, main, batch) | {step.step for step in written[:through]}
    keys = {step.step: whole.key if at == main else f"{whole.key}:{step.step}" for at, step in enumerate(written)}
    left = [step for step in written if step.step not in gone and not rows.done(keys[step.step])]
    if not left:
        return ()
    holder = next((step for step in left if step.wants_part), None)
    if holder is None:
        holder = next((step for step in left if step.step == MAIN_STEP[way]), left[-1])
    order = {step.step: at for at, step in enumerate(written)}
    found: list[Need] = []
    for step in left:
        before = tuple(
            keys[other.step] for other in left
            if order[other.step] < order[step.step] and _waits(step, other, order, main)
        )
        found.append(
            _step_need(
                whole, step, known=known, trade=trade, row=rows.open_row(keys[step.step]), key=keys[step.step],
                is_main=order[step.step] == main, after_main=order[step.step] > main, before=before, batch=batch,
                parts_key=keys[holder.step] if whole.parts else "",
            )
        )
    return tuple(found)


def _done_elsewhere(written: list[JobStep], main: int, batch: Batch | None) -> set[str]:
    """What must have been done for a batch that is away or back."""
    if batch is None or batch.state == "gathering":
        return set()
    return {step.step for step in written[:main] if not _moves_pieces(step)}


def _moves_pieces(step: JobStep) -> bool:
    """It takes both the old and the new part in hand."""
    return step.wants_part and step.uncovered


def _waits(step: JobStep, other: JobStep, order: dict[str, int], main: int) -> bool:
    """Whether `step` comes after `other`, which is written before it.

    Before the part is fitted, taking off the old one and trying on the new one do not wait for each other: neither
    needs what the other brings.
    """
    if order[step.step] >= main:
        return True
    return _moves_pieces(step) or step.wants_part == other.wants_part


def _step_need(
    whole: Need, step: JobStep, *, known: Known, trade: Trade, row: Job | None, key: str, is_main: bool,
    after_main: bool, before: tuple[str, ...], batch: Batch | None, parts_key: str,
) -> Need:
    legacy = whole.job
    says = row if row is not None else legacy if is_main else None
    minutes = minutes_left(
        row, scaled(whole.minutes, step.share), kind=step.kind, paces=known.pace_by_kind if legacy is None else {}
    )
    elsewhere = batch is not None and is_main and way_of(whole.remedy) == "mend"
    if elsewhere and (row is None or row.minutes is None):
        # Somebody else mends it; what came back is looked over.
        minutes = scaled(minutes, LEAST_MINUTES_LEFT)
    cure_days = 0 if elsewhere else step.cure_days
    covers = whole.covers if step.uncovered else ()
    shut = _shut(whole, trade) if after_main and not step.uncovered and step.kind in PROVING else ()
    before_gate = whole.before_gate
    if shut and before_gate in trade.gates and before_gate != LAST_GATE:
        closed = tuple(cover for cover in shut if cover in _closed_for(trade, before_gate))
        # Where the question that waits for the part is asked with it still open, it is proved before the last one.
        before_gate, shut = (before_gate, closed) if closed else (LAST_GATE, shut)
    name = step_words(
        step, part=name_shown(trade.components[whole.component], known), pieces=_pieces(trade, whole.component)
    )
    if is_main and (whole.remedy == "modify" or whole.key != whole.component):
        name = whole.name
    return Need(
        key=key,
        name=row.name if row is not None else name,
        kind=whole.kind,
        component=whole.component,
        chance=whole.chance,
        remedy=whole.remedy,
        minutes=minutes,
        materials_minor=_materials(whole, row, is_main),
        parts=whole.parts if key == parts_key else (),
        covers=row.covers if row is not None and row.covers else covers,
        before_gate=gate_id_of(known, row.before_gate) if row is not None and row.before_gate else before_gate,
        essential=whole.essential,
        worth_minor=whole.worth_minor if is_main else 0,
        cure_days=says.cure_days if says is not None and says.cure_days is not None else cure_days,
        after=before,
        renews=is_main,
        group=whole.key,
        step=step.step,
        part_of=parts_key or key,
        helper=says.helper if says is not None and says.helper is not None else step.helper,
        may_split=says.may_split if says is not None and says.may_split is not None else step.kind not in IN_ONE_GO,
        kind_of_work=legacy.kind if legacy is not None and is_main and row is None else step.kind,
        job=says,
        batch=batch.id if batch is not None else "",
        shut=shut,
    )


def _shut(whole: Need, trade: Trade) -> tuple[str, ...]:
    """What is in the way of the component, and the fluids that were let out on the way to it."""
    opened = opening_order(trade.covers, whole.covers)
    return tuple(cover for cover in opened if cover in whole.covers or trade.covers[cover].drains)


def _closed_for(trade: Trade, gate: str) -> frozenset[str]:
    """Covers that are on when a question is asked."""
    wanted = frozenset(trade.gates[gate].covers_on)
    return frozenset(cover for cover in trade.covers if not wanted.isdisjoint(opening_order(trade.covers, [cover])))


def _materials(whole: Need, row: Job | None, is_main: bool) -> Band3:
    if row is not None and row.cost_minor:
        return (float(row.cost_minor),) * 3
    return whole.materials_minor if is_main else (0.0, 0.0, 0.0)


def _pieces(trade: Trade, component: str) -> tuple[str, ...]:
    carry = trade.carry_overs.get(component)
    return carry.pieces if carry is not None else ()


def with_row(need: Need, known: Known, rows: Rows) -> Need | None:
    """A need without steps as the row that stands for it changes it; None where that is closed."""
    if rows.done(need.key):
        return None
    row = rows.open_row(need.key)
    if row is None:
        return need
    return replace(
        need,
        name=row.name,
        minutes=minutes_left(row, need.minutes, kind=need.kind_of_work, paces={}),
        materials_minor=(float(row.cost_minor),) * 3 if row.cost_minor else need.materials_minor,
        covers=row.covers or need.covers,
        cure_days=row.cure_days if row.cure_days is not None else need.cure_days,
        helper=row.helper if row.helper is not None else need.helper,
        may_split=row.may_split if row.may_split is not None else need.may_split,
        before_gate=gate_id_of(known, row.before_gate) if row.before_gate else need.before_gate,
        job=row,
    )
