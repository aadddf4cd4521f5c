"""The words for `list` and `changes`."""

from __future__ import annotations

from typing import TYPE_CHECKING

from wreckwright.papers.words import sentence, wrapped

if TYPE_CHECKING:
    import datetime as dt

    from wreckwright.acts.journal import Journal
    from wreckwright.acts.page_shapes import JournalLine, MachineLine, MachinesPage

NOTHING_YET = (
    "No machine is in the memory yet. Take in a record file with `wreckwright load FILE`, begin one in the browser "
    "with `wreckwright serve`, or look at three invented ones with `wreckwright demo`."
)
NOT_RECKONED = "not reckoned yet"


def machine_lines(page: MachinesPage) -> list[str]:
    if not page.machines:
        return wrapped(NOTHING_YET)
    return [line for one in page.machines for line in wrapped(machine_words(one), hang=4)]


def machine_words(one: MachineLine) -> str:
    # Of an older state of the record nothing is said; a record that no answer can be given from says why.
    said = sentence(one.sentence if one.reckon_state in ("fresh", "failed") else NOT_RECKONED)
    taps = f" {one.undecided} tap{'' if one.undecided == 1 else 's'} to sort out." if one.undecided else ""
    what = f"{one.about}; {'bought' if one.bought else 'a lot'}. " if one.about else ""
    return f"{one.nickname}: {what}{said}{taps}"


def change_lines(result: Journal, *, one_machine: bool) -> list[str]:
    """Two lines a change: when, what and on which machine; by whom, and the id it is called by."""
    if not result.changes:
        return ["Nothing has been changed yet."]
    return [line for one in result.changes for line in lines_of(one, one_machine=one_machine)]


def lines_of(one: JournalLine, *, one_machine: bool) -> list[str]:
    machines = "" if one_machine or not one.machines else f"{', '.join(one.machines)}: "
    undone = " (taken back since)" if one.undone else ""
    return [
        *wrapped(f"{local_time(one.at)}  {machines}{one.what}{undone}", hang=18),
        *wrapped(f"by {one.who}, id {one.id}", indent=18),
    ]


def local_time(at: dt.datetime) -> str:
    """An instant as the clock on this wall shows it."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"
