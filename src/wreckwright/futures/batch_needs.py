"""Batches: several parts that are brought away together to be painted, plated, welded or machined, and fetched again.

One piece of work a batch: the trip there and back, after which as many days pass as it is away. Both ways are counted
when it is brought. What is mended elsewhere takes the owner only the looking over (`futures.job_steps`). The price of a
batch, or its least charge, stands for what the mending of its parts would cost one by one.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from wreckwright.futures.job_steps import with_row
from wreckwright.futures.need_types import Need
from wreckwright.futures.rows import Rows
from wreckwright.futures.supplies import Band3, band_mean, scaled
from wreckwright.futures.worth import LAST_GATE
from wreckwright.record.known import Known
from wreckwright.record.pace import MENDING_REMEDIES
from wreckwright.record.types import Batch
from wreckwright.trade.types import Trade

TRIP_MINUTES: Band3 = (45.0, 90.0, 180.0)
"""There and back once, to bring and to fetch (judgement)."""


def batch_of_component(known: Known) -> dict[str, Batch]:
    """Component -> the batch with which it goes; where several name it, the first that is not back yet."""
    found: dict[str, Batch] = {}
    for batch in known.machine.batches:
        for component in batch.components:
            old = found.get(component)
            if old is None or (old.state == "back" and batch.state != "back"):
                found[component] = batch
    return found


def batch_needs(known: Known, trade: Trade, rows: Rows, needs: Sequence[Need]) -> list[Need]:
    """`needs` with the batches among them, and with the money of the parts that are mended in one."""
    found = list(needs)
    for batch in known.machine.batches:
        members = [need for need in found if need.batch == batch.id]
        mended = {need.key: need for need in members if need.renews and need.remedy in MENDING_REMEDIES}
        materials: Band3 = (0.0, 0.0, 0.0)
        if batch.price_minor is not None:
            materials = (float(max(batch.price_minor, batch.minimum_minor or 0)),) * 3
        elif batch.minimum_minor is not None:
            one_by_one = sum(band_mean(need.materials_minor) for need in mended.values())
            materials = (max(float(batch.minimum_minor) - one_by_one, 0.0),) * 3
        if batch.price_minor is not None or batch.state == "back":
            # One price for all; and what is back has been paid for (it stands in the purse).
            found = [replace(need, materials_minor=(0.0,) * 3) if need.key in mended else need for need in found]
        if batch.state == "back" or not members:
            continue
        need = with_row(_batch_need(known, trade, batch, materials), known, rows)
        if need is not None:
            found.append(need)
    return found


def _batch_need(known: Known, trade: Trade, batch: Batch, materials: Band3) -> Need:
    key = f"batch:{batch.id}"
    days = round(batch.days if batch.days is not None else trade.lead_classes["specialist_service"].median_days)
    minutes = TRIP_MINUTES
    if batch.state == "away":
        # It has been brought: what is left is to fetch it, once it is ready.
        minutes = scaled(TRIP_MINUTES, 0.5)
        if batch.away_on is not None:
            days = max(days - max((known.as_of - batch.away_on).days, 0), 0)
    return Need(
        key=key, name=f"bring and fetch: {batch.name}" if batch.state == "gathering" else f"fetch: {batch.name}",
        kind="job", minutes=minutes, materials_minor=materials, before_gate=LAST_GATE, essential=False,
        cure_days=days, renews=False, group=key, part_of=key, kind_of_work="check", may_split=False, batch=batch.id,
    )
