"""What is known of a machine: the form shows it as it stands, changes what was edited, loses nothing that was typed.

All rules are our own.
"""

from __future__ import annotations

from dataclasses import fields
from typing import Any

import msgspec
import pytest
from starlette.testclient import TestClient

from tests.web.reading import PageForm, flat, read
from tests.web.states import HX
from wreckwright.acts.facts import Facts
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import change_facts
from wreckwright.record.types import Machine
from wreckwright.web.facts_fields import FIELDS, REPLACES, SECTIONS

BOTH = ("Sorrel", "Bramble", "Magpie")
SINGLE = ("machine", "purchase", "market", "calendar", "owner")


def form_of(client: TestClient, uid: str) -> PageForm:
    page = client.get(f"/machine/{uid}/facts")
    assert page.status_code == 200
    return read(page.text).form(f"/machine/{uid}/facts")


def post(client: TestClient, uid: str, form: PageForm, headers: dict[str, str] | None = None, **typed: Any) -> Any:
    """Send the form with some of its fields typed anew; a tuple stands for several ticks or lines."""
    sent = form.sent()
    for name, value in typed.items():
        sent = [(key, old) for key, old in sent if key != name]
        sent += [(name, one) for one in (value if isinstance(value, tuple) else (value,))]
    body: dict[str, list[str]] = {}
    for name, value in sent:
        body.setdefault(name, []).append(value)
    return client.post(f"/machine/{uid}/facts", data=body, headers=headers or {})


def record(place: Place, uid: str) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uid)


def journal(place: Place, uid: str) -> int:
    with open_memory(place).reading() as reader:
        return len(reader.changes(uid))


# ---- What it shows --------------------------------------------------------------------------------------------------


def test_every_fact_that_can_be_written_down_has_its_field_and_no_other() -> None:
    assert set(FIELDS) == {one.name for one in fields(Facts)}
    assert sum(len(section.fields) for section in SECTIONS) == len(FIELDS)


def test_it_shows_what_stands_in_the_record(client: TestClient, uids: dict[str, str], place: Place) -> None:
    form, machine = form_of(client, uids["Sorrel"]), record(place, uids["Sorrel"])
    assert form.value("nickname") == "Sorrel"
    assert form.value("year") == str(machine.year)
    assert form.value("machine_class") == machine.machine_class
    assert form.values("what_hit") == ["", *machine.what_hit]
    assert form.value("price") == "2450"
    assert form.value("key_starts_it") == machine.key_starts_it
    assert form.value("papers_right") == "", "not known is said as such"
    assert form.values("weekday_minutes") == [str(one) for one in machine.calendar.weekday_minutes or ()]
    assert {name: int(form.value(f"base_{name}")) for name in SINGLE} == {name: 1 for name in SINGLE}


@pytest.mark.parametrize("nickname", BOTH)
def test_where_nothing_is_written_it_says_what_is_taken_instead(
    client: TestClient, uids: dict[str, str], nickname: str
) -> None:
    page = read(client.get(f"/machine/{uids[nickname]}/facts").text)
    form = page.form(f"/machine/{uids[nickname]}/facts")
    assert "Nothing is written here. Taken instead: the trade's own working times" in page.text
    assert page.text.count("Nothing is written here. Taken instead:") >= 3
    assert form.value("pace") == ""


@pytest.mark.parametrize("nickname", BOTH)
def test_a_form_sent_back_untouched_changes_nothing(
    client: TestClient, uids: dict[str, str], place: Place, nickname: str
) -> None:
    uid = uids[nickname]
    before, entries = record(place, uid), journal(place, uid)
    answer = post(client, uid, form_of(client, uid))
    assert answer.status_code == 303 and answer.headers["location"] == f"/machine/{uid}/facts?told=none"
    assert (record(place, uid), journal(place, uid)) == (before, entries)
    assert "It was so already; nothing was changed." in flat(client.get(answer.headers["location"]).text)


# ---- What it writes -------------------------------------------------------------------------------------------------


def test_what_is_edited_is_written_and_nothing_else(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    before = record(place, uid)
    answer = post(
        client, uid, form_of(client, uid), price="2,600.50", what_hit=("", "right", "front"), turns_over="no",
        attendance="45", holding_day="3", pace="1.5", at_auction="yes", days_to_sell="21", as_of="", words="us",
        mirrored="yes", odometer="21 400",
    )  # fmt: skip
    assert answer.status_code == 303
    after = record(place, uid)
    assert after.purchase == msgspec.structs.replace(before.purchase, price_minor=260_050, at_auction=True)
    assert after.market == msgspec.structs.replace(before.market, days_to_sell=21.0)
    assert after.calendar == msgspec.structs.replace(before.calendar, attendance=0.45)
    assert after.owner == msgspec.structs.replace(before.owner, holding_day_minor=300, pace=1.5, words="us")
    assert (after.what_hit, after.turns_over, after.as_of) == (("right", "front"), "no", None)
    assert (after.mirrored, after.odometer) == (True, 21_400.0)
    assert after.findings == before.findings
    said = flat(client.get(answer.headers["location"]).text)
    assert "What is known changed" in said and "Take it back" in client.get(answer.headers["location"]).text


def test_emptying_a_field_makes_it_unknown_again(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    post(client, uid, form_of(client, uid), hour_value="", weekday_minutes=("",) * 7, what_hit=("",), brand="")
    after = record(place, uid)
    assert after.owner.hour_value_minor is None and after.calendar.weekday_minutes is None
    assert after.what_hit == () and after.purchase.brand == ""


def test_saying_a_guess_replaces_it(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Bramble"]
    page = read(client.get(f"/machine/{uid}/facts").text)
    assert "Taken instead: 60 %" in page.text
    post(client, uid, form_of(client, uid), attendance="80 %")
    assert record(place, uid).calendar.attendance == 0.8
    assert "Taken instead: 60 %" not in flat(client.get(f"/machine/{uid}/facts").text)


@pytest.mark.parametrize("nickname", BOTH)
def test_every_guess_that_a_field_replaces_is_one_the_program_makes(
    client: TestClient, uids: dict[str, str], reckoner: Any, nickname: str
) -> None:
    found = reckoner.look(uids[nickname]).answers
    named = {guess.field for guess in found.verdict.rests_on}
    elsewhere = {"findings", "finished"}
    assert {name for name in named if not name.startswith("gates.")} - set(REPLACES) <= elsewhere


# ---- What it refuses ------------------------------------------------------------------------------------------------

WRONG = {
    "price": ("lots", "Price: 'lots' is no sum in EUR."),
    "year": ("19", "Model year: 19 is out of range."),
    "nickname": ("magpie", "agpie"),
    "accepted_loss_chance": ("140", "How likely a loss may be: '140' is more than all."),
    "pace": ("0", "Your pace: found 0"),
    "days_to_sell": ("soon", "From ready to paid: 'soon' is no number"),
    "sound_value_low": ("", "At least: nothing, and the others of the three are given."),
    "weekday_minutes": (("90", "now and then", "", "", "", "", ""), "Tuesday: 'now and then' is no time."),
    "as_of": ("20/11/2026", "Answers hold for: '20/11/2026' is no day"),
    "machine_class": ("hovercraft", "Class: 'hovercraft' is no class of machine."),
}


@pytest.mark.parametrize("name", WRONG)
def test_whatever_is_wrong_the_form_comes_back_as_it_was_typed(
    client: TestClient, uids: dict[str, str], place: Place, name: str
) -> None:
    uid = uids["Sorrel"]
    typed, words = WRONG[name]
    before = record(place, uid)
    form = form_of(client, uid)
    besides = {"freight": "111", "maker_and_model": 'A "B" <c>', "turns_over": "no"}
    answer = post(client, uid, form, **(besides | {name: typed}))
    assert answer.status_code == 422
    page = read(answer.text)
    assert words in page.text
    assert f'id="fact-{name}" class="refused"' in answer.text and page.links[f"#fact-{name}"] == "To that field"
    back = page.form(f"/machine/{uid}/facts")
    assert {one: back.value(one) for one in besides} == besides
    assert back.values(name) == (list(typed) if isinstance(typed, tuple) else [typed])
    assert [back.value(f"base_{kind}") for kind in SINGLE] == [form.value(f"base_{kind}") for kind in SINGLE]
    assert record(place, uid) == before


def test_what_was_put_right_goes_through(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    refused = post(client, uid, form_of(client, uid), price="lots", freight="111")
    back = read(refused.text).form(f"/machine/{uid}/facts")
    assert post(client, uid, back, price="2500").status_code == 303
    assert record(place, uid).purchase.price_minor == 250_000 and record(place, uid).purchase.freight_minor == 11_100


def test_a_day_before_what_was_written_is_refused_by_the_record(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    before = record(place, uid)
    answer = post(client, uid, form_of(client, uid), as_of="2026-01-05", freight="111")
    assert answer.status_code == 422
    page = read(answer.text)
    assert page.form(f"/machine/{uid}/facts").value("as_of") == "2026-01-05"
    assert page.form(f"/machine/{uid}/facts").value("freight") == "111"
    assert record(place, uid) == before


def test_another_change_of_another_field_is_kept(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    form = form_of(client, uid)
    change_facts(place, uid, {"purchase": 1}, Facts(freight="77"), Sent(who="telephone 7f3a"))
    assert post(client, uid, form, price="2500").status_code == 303
    after = record(place, uid).purchase
    assert (after.price_minor, after.freight_minor) == (250_000, 7_700)


def test_another_change_of_the_same_field_is_shown_and_one_chooses(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    form = form_of(client, uid)
    change_facts(place, uid, {"purchase": 1}, Facts(price="2700"), Sent(who="telephone 7f3a"))
    answer = post(client, uid, form, price="2500", freight="88")
    assert answer.status_code == 409
    page = read(answer.text)
    assert "You saw EUR 2450 It is now EUR 2700 You wrote EUR 2500" in page.text
    assert "Leave it as it is now" in page.text and "By this change: What is known changed: price." in page.text
    assert record(place, uid).purchase.price_minor == 270_000

    # In between, somebody changes what this form does not.
    change_facts(place, uid, {"purchase": 2}, Facts(fees="45"), Sent(who="telephone 7f3a"))
    again = page.form(f"/machine/{uid}/facts")
    assert (again.value("base_purchase"), again.value("over")) == ("1", "2 purchase purchase")
    assert client.post(f"/machine/{uid}/facts", data=_body(again.sent())).status_code == 303
    after = record(place, uid).purchase
    assert (after.price_minor, after.freight_minor, after.fees_minor) == (250_000, 8_800, 4_500)


def _body(sent: list[tuple[str, str]]) -> dict[str, list[str]]:
    body: dict[str, list[str]] = {}
    for name, value in sent:
        body.setdefault(name, []).append(value)
    return body


def test_a_part_of_the_form_changes_only_that_part(
    client: TestClient, uids: dict[str, str], place: Place, token: str
) -> None:
    uid = uids["Sorrel"]
    before = record(place, uid)
    answer = client.post(
        f"/machine/{uid}/facts", data={"csrf": token, "base_machine": "1", "as_of": "", "back": f"/machine/{uid}"}
    )
    assert answer.status_code == 303 and answer.headers["location"].startswith(f"/machine/{uid}?told=")
    assert record(place, uid) == msgspec.structs.replace(before, as_of=None)


def test_sent_twice_it_counts_once(client: TestClient, uids: dict[str, str], place: Place) -> None:
    uid = uids["Sorrel"]
    form = form_of(client, uid)
    first, second = (post(client, uid, form, price="2500") for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    assert journal(place, uid) == 2


def test_a_base_that_is_no_number_is_refused(client: TestClient, uids: dict[str, str], token: str) -> None:
    answer = client.post(
        f"/machine/{uids['Sorrel']}/facts", data={"csrf": token, "base_machine": "x", "nickname": "Teasel"}
    )
    assert answer.status_code == 400


def test_without_the_token_nothing_is_written(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = record(place, uids["Sorrel"])
    assert client.post(f"/machine/{uids['Sorrel']}/facts", data={"nickname": "Teasel"}).status_code == 403
    assert record(place, uids["Sorrel"]) == before


def test_the_outbox_is_answered_in_its_own_way(client: TestClient, uids: dict[str, str]) -> None:
    uid = uids["Sorrel"]
    wrong = post(client, uid, form_of(client, uid), headers={"X-Outbox": "1"}, price="lots")
    assert (wrong.status_code, wrong.json()["field"]) == (422, "price")
    done = post(client, uid, form_of(client, uid), headers={"X-Outbox": "1"}, price="2500")
    assert done.json()["said"].startswith("What is known changed")


def test_a_class_known_by_another_of_its_names_stays_as_it_was_written(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    change_facts(place, uid, {"machine": 1}, Facts(machine_class="touring bike"), Sent(who="the tests"))
    form = form_of(client, uid)
    assert form.value("machine_class") == "touring bike"
    post(client, uid, form, price="2500")
    assert record(place, uid).machine_class == "touring bike"


def test_asked_for_as_a_part_it_is_the_same_form(client: TestClient, uids: dict[str, str]) -> None:
    part = client.get(f"/machine/{uids['Sorrel']}/facts", headers=HX)
    assert part.status_code == 200 and read(part.text).form(f"/machine/{uids['Sorrel']}/facts").value("year")
