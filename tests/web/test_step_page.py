"""What came of the next step is told on the machine page: a look after which nothing was wrong, an answer given."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.sheet import Sheet, follow, read, send
from tests.web.states import in_state
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.reckon import Reckoner
from wreckwright.record.types import Machine

HEAD = "Are the frame head and the frame straight?"


def record(place: Place, uid: str) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uid)


def page_of(client: TestClient, uid: str) -> Sheet:
    return read(client, f"/machine/{uid}")


def test_a_look_after_which_nothing_was_wrong(
    client: TestClient, uids: dict[str, str], place: Place, reckoner: Reckoner
) -> None:
    uid = uids["Sorrel"]
    answers = reckoner.look(uid).answers
    assert answers is not None
    # regression: the next thing for Sorrel is the quick look at the frame head.
    assert answers.next_step.check == "sight_and_swing"
    before = record(place, uid).findings
    form = page_of(client, uid).form(button="Looked: nothing wrong")
    after = follow(client, send(client, form))
    new = record(place, uid).findings[len(before) :]
    assert new and all(one.looked_fine and one.check == "sight_and_swing" for one in new)
    assert "nothing found" in after.text
    follow(client, send(client, after.form(button="Take it back")))
    assert record(place, uid).findings == before


def test_a_question_is_answered_and_the_answer_taken_back(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    form = page_of(client, uid).form(f"Answer: {HEAD}")
    # hand-worked from examples/sorrel.toml: the question is there, nobody has asked it.
    assert form.offered["answer"] == ["yes", "no", "way_round"]
    after = follow(client, send(client, form, answer="yes"))
    assert {gate.id: gate.answer for gate in record(place, uid).gates}["head"] == "yes"
    assert f"{HEAD} Yes" in after.text
    follow(client, send(client, after.form(button="Take it back")))
    assert {gate.id: gate.answer for gate in record(place, uid).gates}["head"] == "unasked"


def test_two_answers_at_once_are_a_conflict_and_the_first_stands(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    one, other = (page_of(client, uid).form(f"Answer: {HEAD}") for _ in range(2))
    send(client, one, answer="yes")
    refused: Any = send(client, other, answer="no", outbox=True)
    assert refused.status_code == 409
    assert {gate.id: gate.answer for gate in record(place, uid).gates}["head"] == "yes"


def test_what_came_of_a_step_is_not_asked_while_the_answers_are_old(
    client: TestClient, uids: dict[str, str], reckoner: Reckoner, monkeypatch: pytest.MonkeyPatch
) -> None:
    uid = uids["Sorrel"]
    assert "Looked: nothing wrong" in page_of(client, uid).text
    in_state(monkeypatch, reckoner, uid, state="running", step="drawing", share=0.5, stale=True, why="")
    assert "Looked: nothing wrong" not in page_of(client, uid).text


def test_what_there_is_not(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    before = record(place, uid)
    form = page_of(client, uid).form(f"Answer: {HEAD}")
    form.action = f"/machine/{uid}/gate/tea_leaves"
    assert send(client, form, answer="yes").status_code == 404
    form.action = f"/machine/{uid}/look/tea_leaves"
    assert send(client, form).status_code == 404
    assert record(place, uid) == before
