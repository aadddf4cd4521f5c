"""The read models of all pages: one function a page, reading the store, no HTML and no SQL.

`reader` is that of `store.reading()`; `trade` the trade data as loaded (mirrored here where a machine needs it).
"""

from __future__ import annotations

from wreckwright.acts.page_changes import changes_page
from wreckwright.acts.page_facts import class_choices, facts_page
from wreckwright.acts.page_findings import finding_page, findings_page
from wreckwright.acts.page_heap import heap_page
from wreckwright.acts.page_machines import machine_page, machines_page
from wreckwright.acts.page_record import head_of
from wreckwright.acts.page_shapes import (
    ChangeRow,
    ChangesPage,
    Choice,
    ComponentLine,
    FactsPage,
    FindingPage,
    FindingRow,
    FindingsPage,
    Head,
    HeapPage,
    MachineLine,
    MachinePage,
    MachinesPage,
    RegionPart,
    SignLine,
    StationLine,
    StationPage,
    TapRow,
    WalkPage,
)
from wreckwright.acts.page_walk import station_page, walk_page

__all__ = [
    "ChangeRow",
    "ChangesPage",
    "Choice",
    "ComponentLine",
    "FactsPage",
    "FindingPage",
    "FindingRow",
    "FindingsPage",
    "Head",
    "HeapPage",
    "MachineLine",
    "MachinePage",
    "MachinesPage",
    "RegionPart",
    "SignLine",
    "StationLine",
    "StationPage",
    "TapRow",
    "WalkPage",
    "changes_page",
    "class_choices",
    "facts_page",
    "finding_page",
    "findings_page",
    "head_of",
    "heap_page",
    "machine_page",
    "machines_page",
    "station_page",
    "walk_page",
]
