"""Where the next step is work or a test, it is what stands first on tonight's list: the two never contradict."""

from __future__ import annotations

from msgspec.structs import replace

from wreckwright.answers.next_questions import Case
from wreckwright.answers.plan_types import Evening
from wreckwright.answers.plan_words import capital, some
from wreckwright.answers.tonight import tonight
from wreckwright.answers.types import NextKind, NextStep
from wreckwright.futures.worth import LAST_GATE

HANDS_ON = ("do", "fit")
USUAL_HOURS = 2.0
"""An evening, where the calendar plans none (common practice)."""


class Hands:
    """What hands are to do next, by the list of one evening."""

    def __init__(self, case: Case, evening: Evening) -> None:
        self.case, self.evening = case, evening
        self.keys = {work.key for work in evening.works}
        self.first = first_of(evening, case)
        """None: nothing can be done on that evening."""

    def agreed(self, found: NextStep | None) -> NextStep | None:
        """The step as it is where it is to ask, look, order, prove, wait or sell; else the first of the list.

        None: work that cannot be begun now is passed over.
        """
        if found is None or found.key:
            return found
        if self._is_hands_on(found):
            # A road test stays one where the list is empty: it is done in daylight.
            return self.first or (found if found.gate == LAST_GATE else None)
        key = f"look:{found.check}"
        return replace(found, key=key) if found.check and key in self.keys else found

    def _is_hands_on(self, found: NextStep) -> bool:
        if found.kind == "look":
            return bool(found.gate) and not found.check
        if found.kind == "do" and found.gate:
            # A way round is somebody else's work, or is bought, unless it stands on the list.
            return f"way:{found.gate}:0" in self.keys
        return found.kind in HANDS_ON


def first_of(evening: Evening, case: Case) -> NextStep | None:
    """The first piece of work of tonight's list, for the hours that are planned; None: the list is empty.

    On a day without planned hours it is what would be done in two.
    """
    hours = evening.planned_minutes / 60.0 if evening.planned_minutes > 0 else USUAL_HOURS
    entries = tonight(evening, hours).entries
    if not entries:
        return None
    entry = entries[0]
    work = next(one for one in evening.works if one.key == entry.key)
    loose = [f"First see to what was left loose: {some(tuple(end.words for end in evening.loose))}"]
    kind: NextKind = "fit" if work.part else "look" if entry.kind in ("gate", "look") else "do"
    gate = entry.key.removeprefix("gate:") if entry.kind == "gate" else ""
    how = "Road test: " if gate == LAST_GATE else "Try it on the bench: " if gate else ""
    return NextStep(
        kind=kind, words=f"{how}{entry.name}" if gate else capital(entry.name),
        minutes=entry.minutes + entry.minutes_covers, why=entry.why, gate=gate, key=entry.key,
        # Of a machine that may be wet or burnt that is said before all else.
        cautions=case.cautions(*(loose if evening.loose else ()), entry.caution),
        check=entry.key.removeprefix("look:") if entry.kind == "look" else "",
    )
