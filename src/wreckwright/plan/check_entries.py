"""The steps of a course as the checker sees them: what each key stands for, when it begins and ends."""

from __future__ import annotations

from dataclasses import dataclass, field

from wreckwright.plan.types import Course, Problem, Reason, ReasonCode, Step

Moment = tuple[int, int]
"""Day, and minute of that evening's planned time."""


@dataclass(frozen=True, kw_only=True)
class Entry:
    """A step that is known, with its place in the course."""

    place: int
    step: Step
    name: str
    minutes: int
    begin: Moment
    end: Moment
    stretch: int
    """Number of tests that stand before it."""
    index: int
    """Of the work, cover or test."""
    helper: bool

    @property
    def day(self) -> int:
        return self.begin[0]


@dataclass(kw_only=True)
class Examined:
    entries: list[Entry] = field(default_factory=list)
    works: dict[int, Entry] = field(default_factory=dict)
    tests: dict[int, Entry] = field(default_factory=dict)
    strangers: list[Reason] = field(default_factory=list)


@dataclass(frozen=True, kw_only=True)
class Thing:
    """What a key stands for."""

    kind: str
    index: int
    name: str
    minutes: int
    helper: bool
    there: bool = True


def things_of(problem: Problem) -> dict[str, Thing]:
    found: dict[str, Thing] = {}
    for j, work in enumerate(problem.works):
        found[work.key] = Thing(
            kind=work.kind, index=j, name=work.name, minutes=int(problem.minutes[0, j]), helper=work.helper,
            there=bool(problem.present[0, j]),
        )
    for t, test in enumerate(problem.tests):
        found[test.key] = Thing(
            kind="gate", index=t, name=test.name, minutes=int(problem.test_minutes[0, t]), helper=test.helper
        )
    for x, cover in enumerate(problem.covers):
        for kind, minutes in (("off", problem.off_minutes), ("on", problem.on_minutes)):
            found[f"{kind}:{cover.key}"] = Thing(
                kind=kind, index=x, name=f"{cover.name}, {kind}", minutes=int(minutes[0, x]), helper=cover.helper
            )
    return found


def examine(problem: Problem, course: Course) -> Examined:
    """The steps that stand for something, each with when it begins and ends; the others as reasons."""
    things, out, before = things_of(problem), Examined(), (0, 0)
    for place, step in enumerate(course.steps):
        thing = things.get(step.key)
        if thing is None or not thing.there or thing.kind != step.kind:
            why = (
                "nothing in this rebuild has that key" if thing is None
                else "there is no such work here" if not thing.there
                else f"it is called a {step.kind}, but is a {thing.kind}"
            )
            out.strangers.append(reason("unknown", step.key, f"{step.key} stands on day {step.day}, but {why}"))
            continue
        seen = {"gate": out.tests, "off": None, "on": None}.get(step.kind, out.works)
        if step.pieces:
            begin = (step.pieces[0].day, step.pieces[0].from_minute)
            end = (step.pieces[-1].day, step.pieces[-1].to_minute)
        else:
            # What takes no minutes happens right after the step before it, or on a later day.
            begin = end = before if before[0] == step.day else (step.day, 0)
        entry = Entry(
            place=place, step=step, name=called(thing.name, step.key), minutes=thing.minutes, begin=begin, end=end,
            stretch=len(out.tests), index=thing.index, helper=thing.helper,
        )
        if seen is not None and thing.index in seen:
            first = seen[thing.index]
            out.strangers.append(
                reason("twice", step.key, f"{entry.name} stands on day {begin[0]} and before that on day {first.day}")
            )
            continue
        before = max(before, end)
        out.entries.append(entry)
        if seen is not None:
            seen[thing.index] = entry
    return out


def called(name: str, key: str) -> str:
    return key if name in ("", key) else f"{name} ({key})"


def reason(code: ReasonCode, key: str, words: str) -> Reason:
    return Reason(code=code, key=key, words=f"{words}.")
