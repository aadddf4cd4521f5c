"""The reckoning of a machine in any state that a test wants, and how pages set words."""

from __future__ import annotations

from typing import Any

import pytest

from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.reckon_shapes import Reckoned
from wreckwright.papers.words import sentence, with_days
from wreckwright.record.types import Machine

HX = {"HX-Request": "true"}
"""What the script sends along when it asks for a part of a page."""


def said(text: str) -> str:
    """A text of an answer as a page says it."""
    return " ".join(sentence(with_days(text)).split())


def in_state(monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner, uid: str, **state: Any) -> None:
    """From now on the reckoning of this machine is as `state` says, its answers those there are."""
    really = type(reckoner).look_at

    def look_at(self: Reckoner, other: str, machine: Machine) -> Reckoned:
        found = really(self, other, machine)
        if other != uid:
            return found
        given: dict[str, Any] = {"answers": found.answers, "before": found.before} | state
        return Reckoned(**given)

    monkeypatch.setattr(type(reckoner), "look_at", look_at)
