"""From the part lines of the record to those of the rebuild and back, and their states in words."""

from __future__ import annotations

from wreckwright.answers.plan_words import small
from wreckwright.futures.draw import Drawn
from wreckwright.futures.policy import NEVER, ON_DISCOVERY, Policy
from wreckwright.futures.rows import GONE_STATES
from wreckwright.record.types import PartLine


def line_index(drawn: Drawn, line: PartLine) -> int | None:
    """Index of a part line of the record among the lines of the rebuild; None: it is none of them."""
    if line.state in GONE_STATES:
        return None
    of_component = [one.id for one in drawn.known.parts if one.component == line.component]
    place = of_component.index(line.id) + 1
    key = f"line:{line.id}" if not line.component else line.component if place == 1 else f"{line.component}#{place}"
    return next((index for index, part in enumerate(drawn.compiled.lines) if part.key == key), None)


def lines_in_record(drawn: Drawn) -> dict[int, PartLine]:
    """Index of a line of the rebuild -> the part line of the record that it is."""
    pairs = ((line_index(drawn, line), line) for line in drawn.known.parts)
    return {index: line for index, line in pairs if index is not None}


def state_words(drawn: Drawn, policy: Policy, index: int) -> str:
    """How far line `index` of the rebuild is, in words."""
    part = drawn.compiled.lines[index]
    if part.here:
        return "here"
    line = lines_in_record(drawn).get(index)
    if part.already_ordered:
        on = f" on {line.ordered_on.isoformat()}" if line is not None and line.ordered_on is not None else ""
        shipped = line is not None and line.state == "shipped"
        return f"shipped{f', ordered{on}' if on else ''}" if shipped else f"ordered{on}"
    trigger = policy.line_trigger[index]
    if trigger == NEVER:
        return "not to be ordered"
    if trigger == ON_DISCOVERY:
        return "ordered once it is found"
    if trigger >= 0:
        return f"held back until '{question_of(drawn, trigger)}'"
    return "to be ordered now"


def question_of(drawn: Drawn, trigger: int) -> str:
    """The question that an order waits for; bench gates are counted first, then outside gates."""
    return (*drawn.compiled.bench, *drawn.compiled.outside)[trigger].question


def missing_words(drawn: Drawn, policy: Policy, slot: int) -> tuple[str, ...]:
    """What slot `slot` waits for from outside: parts that are not here, answers that have not come."""
    rebuild = drawn.compiled.rebuild
    parts = [
        f"the {small(drawn.compiled.lines[index].name)} ({state_words(drawn, policy, index)})"
        for index in rebuild.slots[slot].lines if not drawn.compiled.lines[index].here
    ]
    answers = [f"the answer to '{drawn.compiled.outside[o].question}'" for o in rebuild.slots[slot].outside]
    return (*parts, *answers)
