"""What came of the next thing to do: a question answered, or a look after which nothing was wrong."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING
from urllib.parse import quote

from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import BaseRoute, Route

from wreckwright.acts.step_done import answer_gate, looked_and_fine
from wreckwright.web.forms import answer, read_form

if TYPE_CHECKING:
    from wreckwright.acts.reckon_shapes import Answers
    from wreckwright.record.types import Machine

ANSWER_WORDS = {"unasked": "Not asked yet", "yes": "Yes", "no": "No", "way_round": "No, but there was a way round"}


@dataclass(frozen=True, kw_only=True)
class Question:
    """A question that must end in yes, with the answer that stands and those that could be given instead."""

    id: str
    words: str
    answered: str
    """In words."""
    rev: int
    """Of the row that holds the answer; 0: there is none."""
    others: tuple[tuple[str, str], ...]
    """(answer, its words)."""


def questions(answers: Answers, machine: Machine, revs: Mapping[tuple[str, str], int]) -> tuple[Question, ...]:
    """The questions that somebody can answer in words, with the answers as they stand in the record now."""
    made = []
    for gate in answers.shown.gates:
        if gate.by_proofs:
            continue
        name = gate.template or gate.id
        row = next((one for one in machine.gates if name in (one.id, one.template)), None)
        # Some are answered by the three quick questions about the machine, without a row of their own.
        stands = row.answer if row and row.answer != "unasked" else gate.answer.replace(" ", "_")
        made.append(
            Question(
                id=name,
                words=gate.question,
                answered=ANSWER_WORDS[stands],
                rev=revs.get(("gates", row.id), 0) if row else 0,
                others=tuple(
                    (given, words)
                    for given, words in ANSWER_WORDS.items()
                    # Without a row of its own there is no answer that could be taken away.
                    if given != stands and (given != "unasked" or row)
                ),
            )
        )
    return tuple(made)


def home(uid: str) -> str:
    return f"/machine/{quote(uid, safe='')}"


def gate(request: Request) -> Response:
    uid = request.path_params["uid"]
    form = read_form(request)
    told = answer_gate(
        request.app.state.place, uid, request.path_params["gate"], form.text("answer"), form.sent, base_rev=form.rev()
    )
    return answer(request, told, back=home(uid))


def nothing_wrong(request: Request) -> Response:
    uid = request.path_params["uid"]
    told = looked_and_fine(request.app.state.place, uid, request.path_params["check"], read_form(request).sent)
    return answer(request, told, back=home(uid))


routes: list[BaseRoute] = [
    Route("/machine/{uid}/gate/{gate}", gate, methods=["POST"]),
    Route("/machine/{uid}/look/{check}", nothing_wrong, methods=["POST"]),
]
