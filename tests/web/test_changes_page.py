"""The journal: newest first, each change to be taken back, what was taken back to be brought back. Rules of our own."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.reading import flat, read
from tests.web.states import HX
from wreckwright.acts.machines import NewMachine, new_machine
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import FindingForm, Told, change_finding, note_finding, tap

SENT = Sent(who="telephone 7f3a")


def note(place: Place, uid: str, words: str = "left mirror gone") -> Told:
    return note_finding(place, uid, FindingForm(what=words), SENT)


def findings(place: Place, uid: str) -> set[str]:
    with open_memory(place).reading() as reader:
        return {one.what for one in reader.machine(uid).findings}


def undo_forms(html: str) -> list[dict[str, str]]:
    """The forms in the page that take a change back, top first; the one for the outbox stands in a template."""
    return [dict(form.sent()) for form in read(html).forms if form.action == "/undo"]


def entries(html: str) -> list[str]:
    return [flat(piece.partition("</li>")[0]) for piece in html.split('<li class="line">')[1:]]


def test_the_newest_stands_first_with_who_and_what(client: TestClient, place: Place, uids: dict[str, str]) -> None:
    note(place, uids["Sorrel"])
    tap(place, uids["Sorrel"], "snag", "rear brake drags", (), SENT)
    told = entries(client.get(f"/machine/{uids['Sorrel']}/changes").text)
    assert len(told) == 3
    assert "Snag: rear brake drags." in told[0] and "telephone 7f3a" in told[0]
    assert "left mirror gone." in told[1]
    assert "Taken in from sorrel.toml" in told[2] and "the tests" in told[2]


def test_what_is_taken_back_is_struck_through_in_words_too(
    client: TestClient, place: Place, uids: dict[str, str]
) -> None:
    uid = uids["Sorrel"]
    change = note(place, uid).change_id
    html = client.get(f"/machine/{uid}/changes").text
    form = next(form for form in undo_forms(html) if form["change"] == change)
    answer = client.post("/undo", data=form)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"/machine/{uid}/changes?told=")
    assert "left mirror gone" not in findings(place, uid)

    after = client.get(answer.headers["location"]).text
    told = entries(after)
    assert "Taken back." in told[1] and "<s>" in after
    assert "Bring it back" in told[0] and "Take it back" not in told[1]


def test_what_was_taken_back_can_be_brought_back_and_so_on(
    client: TestClient, place: Place, uids: dict[str, str]
) -> None:
    uid = uids["Sorrel"]
    change: str | None = note(place, uid).change_id
    for there in (False, True, False, True):
        page = client.get(f"/machine/{uid}/changes").text
        form = next(form for form in undo_forms(page) if form["change"] == change)
        client.post("/undo", data=form)
        assert ("left mirror gone" in findings(place, uid)) == there
        with open_memory(place).reading() as reader:
            change = reader.changes(uid)[0].id


def test_what_was_changed_since_is_not_offered_and_not_taken_back(
    client: TestClient, place: Place, uids: dict[str, str], token: str
) -> None:
    uid = uids["Sorrel"]
    first = note(place, uid)
    change_finding(place, uid, first.handle, 1, FindingForm(what="left mirror cracked"), SENT)
    html = client.get(f"/machine/{uid}/changes").text
    assert first.change_id not in {form["change"] for form in undo_forms(html)}
    assert "what it touched was changed later" in entries(html)[1]
    answer = client.post("/undo", data={"csrf": token, "change": first.change_id or ""})
    assert answer.status_code == 409
    assert "left mirror cracked" in findings(place, uid)
    assert "Traceback" not in answer.text


def test_taking_back_the_beginning_of_a_machine_leads_to_the_list(client: TestClient, place: Place, token: str) -> None:
    told = new_machine(place, NewMachine(machine_class="naked", year="2016", nickname="Teasel"), SENT)
    back = f"/machine/{told.uid}/changes"
    answer = client.post("/undo", data={"csrf": token, "change": told.change_id or "", "back": back})
    assert answer.status_code == 303 and answer.headers["location"].startswith("/?told=")
    page = client.get(answer.headers["location"])
    assert page.status_code == 200 and "Take it back" in page.text
    assert client.get(back).status_code == 404
    # And it can be brought back from there.
    form = undo_forms(page.text)[0]
    assert client.post("/undo", data=form).status_code == 303
    assert client.get(f"/machine/{told.uid}").status_code == 200


def test_the_same_undo_sent_twice_counts_once(client: TestClient, place: Place, uids: dict[str, str]) -> None:
    uid = uids["Sorrel"]
    note(place, uid)
    form = undo_forms(client.get(f"/machine/{uid}/changes").text)[0]
    first, second = client.post("/undo", data=form), client.post("/undo", data=form)
    assert first.headers["location"] == second.headers["location"]
    assert "left mirror gone" not in findings(place, uid)


@pytest.mark.parametrize(("change", "status"), [("", 422), ("nothing-like-it", 404)])
def test_a_change_that_is_not_there_is_told_in_words(client: TestClient, token: str, change: str, status: int) -> None:
    answer = client.post("/undo", data={"csrf": token, "change": change})
    assert answer.status_code == status
    assert "change" in flat(answer.text)


def test_nobody_takes_anything_back_without_the_token(client: TestClient, place: Place, uids: dict[str, str]) -> None:
    change = note(place, uids["Sorrel"]).change_id
    assert client.post("/undo", data={"change": change or ""}).status_code == 403
    assert "left mirror gone" in findings(place, uids["Sorrel"])


def test_the_outbox_is_answered_in_its_own_way(
    client: TestClient, place: Place, uids: dict[str, str], token: str
) -> None:
    change = note(place, uids["Sorrel"]).change_id
    data: dict[str, Any] = {"csrf": token, "change": change or ""}
    answer = client.post("/undo", data=data, headers={"X-Outbox": "1"})
    assert answer.json()["said"] and answer.json()["change"]


def test_older_changes_are_one_tap_away(client: TestClient, place: Place, uids: dict[str, str]) -> None:
    uid = uids["Bramble"]
    for number in range(52):
        tap(place, uid, "snag", f"number {number}", (), SENT)
    short = read(client.get(f"/machine/{uid}/changes").text)
    more = f"/machine/{uid}/changes?all=1"
    assert more in short.links and "number 51." in short.text and "number 1." not in short.text
    long = read(client.get(more).text)
    assert "number 0." in long.text and "Taken in from bramble.toml" in long.text and more not in long.links


def test_asked_for_as_a_part_it_is_the_same(client: TestClient, uids: dict[str, str]) -> None:
    part = client.get(f"/machine/{uids['Sorrel']}/changes", headers=HX)
    assert part.status_code == 200 and len(entries(part.text)) == 1
