"""What may be damaged and has not been seen, each with the look that settles it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from wreckwright.acts.views import View
from wreckwright.answers.types import Suspect
from wreckwright.trade.types import Trade


class SuspectLook(View, frozen=True, kw_only=True):
    component: str
    """Its id in the trade data."""
    name: str
    """In the owner's words (UK or US)."""
    words: str
    """How likely, e.g. `about 4 in 10, trade judgement`."""
    look: str
    """How to look at it; empty where the trade data do not know the component."""
    bad: str
    """What a bad one looks like."""
    minutes: float
    """For the look; 0: not known."""


def suspect_looks(
    suspects: Sequence[Suspect], names: Mapping[str, str], trade: Trade, *, most: int = 6
) -> tuple[SuspectLook, ...]:
    """The first `most` of the suspects. `names`: id -> name in the owner's words; `trade` fits the machine's layout."""
    found = []
    for suspect in suspects[:most]:
        row = trade.components.get(suspect.component)
        found.append(
            SuspectLook(
                component=suspect.component,
                name=names.get(suspect.component, suspect.component.replace("_", " ")),
                words=suspect.words,
                look=row.look_how if row else "",
                bad=row.bad_looks_like if row else "",
                minutes=row.look_minutes if row else 0.0,
            )
        )
    return tuple(found)
