"""The running order: the picture and the same in words, what is waited for, errands, batches, and after it ran.

Orders are made up by hand (tests/papers/made_up_plan.py); what is written is read back from the memory.
"""

from __future__ import annotations

import datetime as dt
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.papers.made_up_plan import parcel, running_order
from tests.web import plan_made_up as made
from tests.web.browser import SIDEWAYS, SMALL_CONTROLS, SMALL_LETTERS, Live, Watch, violations, wait_for
from tests.web.reading import flat
from tests.web.reading import read as reading
from tests.web.sheet import Sheet, follow, read, send
from tests.web.states import HX, in_state
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.reckon import Reckoner
from wreckwright.papers.order_picture import order_figure
from wreckwright.record.types import Machine
from wreckwright.web import pages_order


def machine(place: Place, uids: dict[str, str]) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uids["Sorrel"])


def at(uids: dict[str, str]) -> str:
    return f"/machine/{uids['Sorrel']}/order"


def shows(monkeypatch: pytest.MonkeyPatch, uids: dict[str, str], **changed: Any) -> str:
    """From now on the page of Sorrel shows what is made up; its address."""
    page = made.order_page(**({"head": made.head(uid=uids["Sorrel"])} | changed))
    monkeypatch.setattr(pages_order, "order_page", lambda *_, **__: page)
    return at(uids)


# ---- What it says ---------------------------------------------------------------------------------------------------


def test_date_and_what_it_waits_for_come_first_then_the_picture_then_the_work(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    text = flat(client.get(shows(monkeypatch, uids)).text)
    wanted = (
        "Finished: half by 1 March 2027, 8 in 10 by 13 May 2027.",
        "The end waits for the left fork leg in 41 of 100 futures.",
        "What can be done tonight", "What the last change did", "Parts, work and questions along time",
        "It is going to stand for 23 days", "Nothing is done to it until 15 December 2026.",
        "Fuel tank full, tap shut.",
        "For the daytime", "Ring the office of registrations.", "Ask: Is the frame number free of a loan?",
        "To the alignment bench. 3 December 2026", "It steers: not yet.",
        "Up to the question: Does the engine start", "Usually 28 December 2026; half by 3 January 2027, 8 in 10 by",
        "Fuel tank off: 20 min", "Look into the coolant", "Fit the fork legs",
        "3 h 15 min, 15 December 2026 to 18 December 2026. Waits for: Left fork leg.",
        "8 in 10 done by 28 January 2027.",
        "Then, up to: Are the papers right?", "2 steps", "Fit the radiator",
        "What is waited for", "Left fork leg Ordered on 2 November 2026. Usually 15 December 2026; 8 in 10 by",
        "The end waits for it in 41 % of the futures. A day earlier is worth EUR 6.",
        "Radiator Held back until it runs.",
        "It never comes in 24 % of the futures.",
        "After it ran", "Tighten the head again, cold. It is due.", "After 100 km.",
        "Trips and calls you took on", "Done elsewhere, several at once", "Paint: tank and tail: being gathered",
    )  # fmt: skip
    start = 0
    for words in wanted:
        found = text.find(words, start)
        assert found >= start, f"{words!r} is not there or too early: {text}"
        start = found
    # A worth that is said as nothing is not said.
    assert "EUR 0" not in text


def test_the_picture_is_there_with_all_of_it_in_words(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    html = client.get(shows(monkeypatch, uids)).text
    page = reading(html)
    assert page.titles == ["Sorrel: parts, work and questions along time"]
    assert order_figure(running_order()).words in page.text
    assert len(page.ids) == len(set(page.ids))
    assert "<script>" not in html and " style=" not in html


def test_an_order_that_cannot_be_kept_is_not_shown_as_one_that_can(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    broken = running_order(broken=("The fork legs are fitted on 2026-12-10, five days before the left one is here",))
    text = flat(client.get(shows(monkeypatch, uids, order=broken)).text)
    assert "This order cannot be kept. The fork legs are fitted on 10 December 2026, five days" in text
    assert "This order cannot be kept" not in flat(client.get(shows(monkeypatch, uids)).text)


def test_an_order_without_anything_left_is_a_page_too(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    empty = running_order(
        stretches=(), parcels=(), finish=None, finish_p80=None, first_gate=None, long_wait=None, batches=(), errands=(),
        after_ride=(), cover_hours=0.0, cover_hours_one_by_one=0.0,
    )  # fmt: skip
    text = flat(client.get(shows(monkeypatch, uids, order=empty, errands=(), batches=())).text)
    assert "It is hardly ever finished." in text and "For the daytime" not in text
    assert text.count("None.") == 2


def test_what_is_only_ordered_once_something_is_found_is_not_mixed_with_what_comes(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    hidden = parcel("Air box", "2027-01-01", "2027-02-01", "2027-03-01", 0.9, state="ordered once it is found")
    order = running_order(parcels=(hidden, *running_order().parcels))
    text = flat(client.get(shows(monkeypatch, uids, order=order)).text)
    assert text.index("Brake hose Here.") < text.index("Only if something hidden is found: 1") < text.index("Air box")
    assert "Air box" not in order_figure(order).words


def test_a_lot_that_is_not_bought_has_no_order(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, f"/machine/{uids['Magpie']}/order")
    assert page.status == 200 and "not bought" in page.text and "<svg" not in page.text


def test_it_asks_for_its_part_until_it_is_there(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner
) -> None:
    in_state(monkeypatch, reckoner, uids["Sorrel"], state="running", step="looking for a better order", share=0.5)
    page = client.get(at(uids)).text
    assert f'hx-get="{at(uids)}?part=1"' in page and "Stop reckoning" in page
    part = client.get(f"{at(uids)}?part=1", headers=HX)
    assert "<progress" in part.text and "HX-Retarget" not in part.headers
    in_state(monkeypatch, reckoner, uids["Sorrel"], state="fresh")
    done = client.get(f"{at(uids)}?part=1", headers=HX)
    assert done.headers["HX-Retarget"] == "#plan" and done.headers["HX-Reswap"] == "outerHTML"
    # What is typed in stands apart, and is not sent again.
    assert "<h1>" not in done.text and "Take one on" not in done.text


def test_stopping_leads_back_to_where_it_was_stopped(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner
) -> None:
    in_state(monkeypatch, reckoner, uids["Sorrel"], state="running", step="drawing", share=0.1)
    for form in (read(client, at(uids)).form(button="Stop reckoning"),):
        assert send(client, form).headers["location"] == at(uids)
    in_state(monkeypatch, reckoner, uids["Sorrel"], state="stopped", why="It was stopped.")
    again = read(client, at(uids)).form(button="Reckon again")
    assert send(client, again).headers["location"] == at(uids)
    again.fields = [(name, "//evil.test/" if name == "back" else value) for name, value in again.fields]
    assert send(client, again).headers["location"] == f"/machine/{uids['Sorrel']}"


# ---- Errands, batches, after it ran ---------------------------------------------------------------------------------


def tap(client: TestClient, page: Sheet, name: str, **values: Any) -> Sheet:
    return follow(client, send(client, page.form(name), **values))


def test_a_proposed_call_is_taken_on_and_answered(
    client: TestClient, uids: dict[str, str], place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    page = read(client, shows(monkeypatch, uids))
    tap(client, page, "Take it on: Ring the office of registrations")
    (one,) = machine(place, uids).errands
    assert (one.kind, one.words, one.gate, one.done) == ("call", "Ring the office of registrations", "papers", False)
    monkeypatch.undo()
    page = read(client, at(uids))
    page = tap(client, page, "Done: Ring the office of registrations", note="none, says Mrs Hale", gate_answer="yes")
    (one,) = machine(place, uids).errands
    assert (one.done, one.answer) == (True, "none, says Mrs Hale")
    assert {gate.template: gate.answer for gate in machine(place, uids).gates}["papers"] == "yes"
    # One change: taken back, both are as before.
    follow(client, send(client, page.form(button="Take it back")))
    assert not machine(place, uids).errands[0].done
    assert {gate.template: gate.answer for gate in machine(place, uids).gates}["papers"] != "yes"


def test_a_trip_is_written_down_with_what_it_asks_of_the_machine(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    page = read(client, at(uids))
    form = page.form("Take on a trip or a call")
    assert set(form.offered["wants"]) == {"rolls", "steers", "number_readable", "battery_up"}
    follow(client, send(client, form, kind="trip", words="to the bench", day="2026-12-03", wants=["rolls", "steers"]))
    (one,) = machine(place, uids).errands
    assert (one.kind, one.day, one.wants) == ("trip", dt.date(2026, 12, 3), ("rolls", "steers"))


def test_an_errand_without_words_is_refused(client: TestClient, uids: dict[str, str], place: Place) -> None:
    refused = send(client, read(client, at(uids)).form("Take on a trip or a call"))
    assert refused.status_code == 422 and machine(place, uids).errands == ()


def test_a_batch_is_gathered_brought_and_fetched(client: TestClient, uids: dict[str, str], place: Place) -> None:
    page = read(client, at(uids))
    form = page.form("Gather a batch")
    components = form.offered["components"][:2]
    page = follow(client, send(client, form, name="Paint", components=components, price="180", days="10"))
    (one,) = machine(place, uids).batches
    assert (one.name, one.components, one.price_minor, one.days, one.state) == (
        "Paint", tuple(components), 18_000, 10, "gathering",
    )  # fmt: skip
    for state, words in (("away", "It is away now"), ("back", "It is back")):
        form = page.form(f"{words}: Paint")
        form.fields.append(("state", state))
        page = follow(client, send(client, form))
        assert machine(place, uids).batches[0].state == state
    assert "It is back: Paint" not in [form.name for form in page.forms]


def test_what_was_taken_on_and_gathered_can_be_changed(client: TestClient, uids: dict[str, str], place: Place) -> None:
    page = tap(client, read(client, at(uids)), "Take on a trip or a call", kind="trip", words="to the bench",
               wants=["rolls"])  # fmt: skip
    page = tap(client, page, "Change: to the bench", words="to the other bench", day="2026-12-03")
    (trip,) = machine(place, uids).errands
    # What the form does not show stays.
    assert (trip.words, trip.day, trip.wants) == ("to the other bench", dt.date(2026, 12, 3), ("rolls",))
    form = page.form("Gather a batch")
    components = form.offered["components"][:2]
    page = follow(client, send(client, form, name="Paint", components=components, price="180", days="10"))
    assert page.form("Change: Paint").value("price") == "180"
    page = tap(client, page, "Change: Paint", days="14")
    (one,) = machine(place, uids).batches
    assert (one.days, one.price_minor, one.components) == (14, 18_000, tuple(components))


def test_a_job_that_only_the_owner_knows_of_is_written_down(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = machine(place, uids)
    page = read(client, at(uids))
    refused = send(client, page.form("Write down a job"), name="", minutes="40")
    assert refused.status_code == 422 and machine(place, uids) == before
    values = {"name": "Turn a spacer", "minutes": "40", "cost": "3.50", "may_split": "no"}
    page = follow(client, send(client, page.form("Write down a job"), **values))
    (new,) = [one for one in machine(place, uids).jobs if one.id not in {old.id for old in before.jobs}]
    assert (new.name, new.cost_minor, new.may_split, new.stands_for) == ("Turn a spacer", 350, False, "")
    assert new.minutes is not None and new.minutes.likely == 40
    # Its card opens, where all the rest is told.
    assert page.form("Change it").value("minutes") == "40"
    follow(client, send(client, page.form(button="Take it back")))
    assert machine(place, uids) == before


def test_warm_and_cold_is_counted_and_what_was_ridden_is_written_down(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    page = read(client, at(uids))
    for _ in range(2):
        page = tap(client, page, "One more heat cycle")
    assert machine(place, uids).heat_cycles == 2
    page = tap(client, page, "It was ridden", ridden="104.5")
    assert machine(place, uids).ridden == 104.5
    page = follow(client, send(client, page.form(button="Take it back")))
    assert machine(place, uids).ridden is None and machine(place, uids).heat_cycles == 2
    assert send(client, page.form("It was ridden"), ridden="far").status_code == 422


def test_what_is_looked_at_again_after_a_ride_is_done_with_one_tap(
    client: TestClient, uids: dict[str, str], place: Place, monkeypatch: pytest.MonkeyPatch
) -> None:
    line = made.order_page().order.after_ride[0]  # type: ignore[union-attr]
    page = read(client, shows(monkeypatch, uids))
    assert page.form(f"Done: {line.words}").action == f"/machine/{uids['Sorrel']}/card/{line.key}/done"
    # What is not due yet has no button.
    assert "Done: Go over the spokes" not in [form.name for form in page.forms]


# ---- In a browser ---------------------------------------------------------------------------------------------------


def test_the_whole_order_is_fit_for_a_thumb_and_a_desk(
    page: Any, desk_page: Any, server: Live, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    address = shows(monkeypatch, uids)
    for one in (page, desk_page):
        one.goto(server.url + address)
        sides = one.evaluate(SIDEWAYS)
        assert sides["page"] <= sides["screen"], sides
        assert one.evaluate(SMALL_CONTROLS) == [] and one.evaluate(SMALL_LETTERS) == []
        assert violations(one) == []
    # The picture fits a telephone without being pushed, and its letters are not smaller than 12 pixels there.
    box = page.locator(".scrolls").first.bounding_box()
    drawn = page.locator(".scrolls svg").first.bounding_box()
    assert drawn["width"] <= box["width"] <= 360 and 14 * drawn["width"] / 360 >= 12


def test_a_heat_cycle_is_one_tap_and_the_page_says_so(
    page: Any, server: Live, uids: dict[str, str], place: Place, watch: Watch
) -> None:
    page.goto(server.url + at(uids))
    page.get_by_role("button", name="It was warm and is cold again").tap()
    wait_for(lambda: machine(place, uids).heat_cycles == 1, what="it is stored")
    page.get_by_text("Warm and cold again so far: 1").wait_for(state="visible")
