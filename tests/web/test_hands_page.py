"""One pair of hands: evenings, helpers and turns, written into every machine as one change.

All expected values are hand-worked; what is written is read back from the memory.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web import plan_made_up as made
from tests.web.browser import SIDEWAYS, SMALL_CONTROLS, SMALL_LETTERS, Live, violations
from tests.web.sheet import Form, Sheet, follow, read, send
from wreckwright.acts.place import Place, open_memory
from wreckwright.record.types import Machine
from wreckwright.web import pages_hands

BOUGHT = ("Sorrel", "Bramble")
"""Of the three machines of the tests; Magpie is a lot nobody has bought."""


def machines(place: Place, uids: dict[str, str]) -> dict[str, Machine]:
    with open_memory(place).reading() as reader:
        return {nickname: reader.machine(uid) for nickname, uid in uids.items()}


def typed(form: Form, name: str, value: str, nth: int = 0) -> None:
    """Type into the nth field of that name."""
    places = [index for index, (key, _) in enumerate(form.fields) if key == name]
    form.fields[places[nth]] = (name, value)


def evenings(client: TestClient) -> Form:
    return read(client, "/hands").form("Evenings")


def test_it_shows_the_week_the_next_days_and_whose_turn_it_is(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, "/hands")
    form = page.form("Evenings")
    week = [value for name, value in form.fields if name == "week"]
    days = [name for name, _ in form.fields if name.startswith("day_")]
    today = dt.date.today()
    assert len(week) == 7
    assert days == [f"day_{today + dt.timedelta(days=ahead)}" for ahead in range(21)]
    assert {name for name, _ in form.fields if name.startswith("base_")} == {f"base_{uids[one]}" for one in BOUGHT}
    line = page.text.partition("Whose turn it is")[2].partition("The next days")[0]
    assert line.index("Sorrel") < line.index("goes first") < line.index("Bramble") and "Magpie" not in line


def test_one_saving_writes_all_machines_and_is_taken_back_as_one(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = machines(place, uids)
    form = evenings(client)
    for nth, text in enumerate(("", "1 h 30", "0", "90", "", "4 h", "")):
        typed(form, "week", text, nth)
    first = next(name for name, _ in form.fields if name.startswith("day_"))
    typed(form, first, "45")
    days_off = "2027-12-24 to 2027-12-26"
    page = follow(client, send(client, form, days_off=days_off, helper_weekdays=["saturday"], helper_days="2027-01-05"))
    for nickname in BOUGHT:
        calendar = machines(place, uids)[nickname].calendar
        assert calendar.weekday_minutes == (0, 90, 0, 90, 0, 240, 0)
        assert calendar.days_off == tuple(dt.date(2027, 12, day) for day in (24, 25, 26))
        assert (calendar.helper_weekdays, calendar.helper_days) == (("saturday",), (dt.date(2027, 1, 5),))
        assert [(one.date, one.minutes) for one in calendar.changed] == [(dt.date.today(), 45)]
    assert machines(place, uids)["Magpie"] == before["Magpie"]
    follow(client, send(client, page.form(button="Take it back")))
    assert machines(place, uids) == before


def test_what_was_saved_stands_in_the_form_and_saving_it_again_changes_nothing(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    form = evenings(client)
    first = next(name for name, _ in form.fields if name.startswith("day_"))
    typed(form, first, "45")
    follow(client, send(client, form, days_off="2027-12-24 to 2027-12-26", helper_weekdays=["saturday"]))
    before = machines(place, uids)
    again = evenings(client)
    assert again.value(first) == "45" and again.value("days_off") == "2027-12-24 to 2027-12-26"
    assert ("helper_weekdays", "saturday") in again.fields
    assert "nothing was changed" in follow(client, send(client, again)).text
    assert machines(place, uids) == before
    # Emptied, the day is as its weekday again.
    typed(again, first, "")
    again.fields = [pair for pair in again.fields if pair[0] != "op"]
    follow(client, send(client, again))
    assert all(not machines(place, uids)[nickname].calendar.changed for nickname in BOUGHT)


@pytest.mark.parametrize(("field", "text"), [("week", "a lot"), ("days_off", "next week"), ("helper_days", "32.1.2027"),
                                             ("week", "25 h")])  # fmt: skip
def test_what_is_wrong_comes_back_as_it_was_typed(
    client: TestClient, uids: dict[str, str], place: Place, field: str, text: str
) -> None:
    before = machines(place, uids)
    form = evenings(client)
    typed(form, field, text)
    answer = Sheet(send(client, form))
    assert answer.status == 422
    assert text in [value for name, value in answer.form("Evenings").fields if name == field]
    assert machines(place, uids) == before


def test_a_machine_takes_another_turn_and_that_is_taken_back(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = machines(place, uids)
    page = read(client, "/hands")
    assert [form.name for form in page.forms if form.action.endswith("/turn")] == ["Earlier: Bramble"]
    page = follow(client, send(client, page.form("Earlier: Bramble")))
    turns = {nickname: machines(place, uids)[nickname].turn for nickname in BOUGHT}
    assert turns == {"Bramble": 1, "Sorrel": 2}
    assert "Earlier: Sorrel" in [form.name for form in page.forms]
    follow(client, send(client, page.form(button="Take it back")))
    assert machines(place, uids) == before


@pytest.mark.parametrize("place_in_line", ["0", "9", "first", ""])
def test_a_place_that_is_not_in_the_line_is_refused(
    client: TestClient, uids: dict[str, str], token: str, place: Place, place_in_line: str
) -> None:
    answer = client.post(f"/machine/{uids['Bramble']}/turn", data={"csrf": token, "place": place_in_line})
    assert answer.status_code == 422
    assert machines(place, uids)["Bramble"].turn is None


def test_without_a_machine_it_says_so(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    empty = made.hands_page(machines=(), base_revs={})
    monkeypatch.setattr(pages_hands, "hands_page", lambda *_, **__: empty)
    page = read(client, "/hands")
    assert "There is no machine to work on yet." in page.text and len(page.forms) <= 1


def test_it_is_fit_for_a_thumb_and_a_desk(
    page: Any, desk_page: Any, server: Live, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(pages_hands, "hands_page", lambda *_, **__: made.hands_page())
    for one in (page, desk_page):
        one.goto(server.url + "/hands")
        one.get_by_text("The 14 days after that").click()
        sides = one.evaluate(SIDEWAYS)
        assert sides["page"] <= sides["screen"], sides
        assert one.evaluate(SMALL_CONTROLS) == [] and one.evaluate(SMALL_LETTERS) == []
        assert violations(one) == []
