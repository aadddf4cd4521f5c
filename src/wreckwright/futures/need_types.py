"""The shape of a need: one piece of work with its minutes, its parts, its covers and what it comes after."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from wreckwright.futures.supplies import Band3, PartNeed, band_mean
from wreckwright.record.types import Job, JobKind


@dataclass(frozen=True, kw_only=True)
class Need:
    """`kind` is that of its slot: job, look or follow_up."""

    key: str
    name: str
    kind: str
    component: str = ""
    chance: float = 1.0
    remedy: str = ""
    minutes: Band3 = (0.0, 0.0, 0.0)
    materials_minor: Band3 = (0.0, 0.0, 0.0)
    parts: tuple[PartNeed, ...] = ()
    covers: tuple[str, ...] = ()
    before_gate: str = ""
    essential: bool = True
    worth_minor: int = 0
    """What the finished machine fetches less if this is left undone."""
    cure_days: int = 0
    after: tuple[str, ...] = ()
    """Keys of needs that come before; a job that is finished already stands for none."""
    renews: bool = True
    """Afterwards the component counts as sound; false for work that leaves it as it was."""
    group: str = ""
    """Key of the main step of the remedy that it is a step of; of a need with no other steps, its own key."""
    step: str = ""
    """Step of the trade data (`try_on`, `strip`, `fit`, ...); empty where there are no steps."""
    part_of: str = ""
    """Key of the need of the same remedy that holds its part lines; its own where it holds them or there are none."""
    helper: bool = False
    may_split: bool = True
    kind_of_work: JobKind = "fit"
    job: Job | None = None
    """The row of the record that stands for it."""
    batch: str = ""
    """Handle of the batch with which its component goes, or which it is."""
    shut: tuple[str, ...] = ()
    """Covers that should be back on for it: a cooling system is tested full, a wheel is spun in its place."""


@dataclass(frozen=True, kw_only=True)
class Needs:
    known: tuple[Need, ...]
    hidden: tuple[Need, ...]
    """Follow-ups with a slot of their own, dearest expected first."""
    small: Mapping[str, tuple[float, float]]
    """Hidden components without a slot: money (minor units) and minutes if bad; they become one lump."""
    lump_mean: tuple[float, float] = (0.0, 0.0)
    """Expected money (minor units) and minutes of that lump, before it is known what is bad."""
    left_as_is_minor: int = 0
    """What the sale loses by findings that are left as they are."""
    gate_components: frozenset[str] = field(default_factory=frozenset)
    not_left: Mapping[str, str] = field(default_factory=dict)
    """Missing mounts that the owner meant to leave, and what is to be fitted on each: they are renewed all the same."""


def money_mean(need: Need) -> float:
    """Expected money of one need, minor units: materials, and each part from its first source."""
    return band_mean(need.materials_minor) + sum(band_mean(part.supplies[0].price_minor) for part in need.parts)
