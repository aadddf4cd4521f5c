"""Forms: read, hashed, answered; and every form of every page works without script. Our own rules."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.routing import Route
from starlette.testclient import TestClient

from tests.web.conftest import QUICK, Still, token_of
from tests.web.sheet import Form, Sheet, read
from tests.web.telling import photograph, taps_in
from tests.web.test_look import MACHINES, cases, live_in
from wreckwright.acts import snags
from wreckwright.acts.batches import BatchForm, note_batch
from wreckwright.acts.errands import ErrandForm, note_errand
from wreckwright.acts.loose_ends import leave
from wreckwright.acts.place import Place
from wreckwright.acts.reckon_shapes import Reckoned
from wreckwright.acts.sent import Sent
from wreckwright.record.types import Machine
from wreckwright.web.app import create_app
from wreckwright.web.forms import body_hash, local_path, told_at
from wreckwright.web.posted import Posted

OP = "c0ffee00c0ffee00"
WORDS = st.text(min_size=1, max_size=8)
FIELDS = st.lists(st.tuples(WORDS, st.text(max_size=8)), max_size=5)

FILLED = {
    ("/new", "machine_class"): "tourer",
    ("/new", "year"): "2019",
    ("/findings", "what"): "left mirror gone",
    ("/heap/", "what"): "left mirror gone",
    ("/errands", "words"): "ring the dealer: is the key in stock",
    ("/batches", "name"): "paint",
    ("/jobs", "name"): "true the wheel",
    ("/ridden", "ridden"): "120",
}
"""(part of an address, field) -> what a hand writes into a field that must not be empty."""
BUTTONS = {"/tap": ("what", "snag"), "/snag": ("kind", "snapped")}
"""Part of an address -> name and value of the button that is pressed, where it carries one."""
TELLS_NOTHING = ("/reckon", "/reckon/stop")
"""Ends of addresses that write nothing down."""


# ---- reading ---------------------------------------------------------------------------------------------------------


@given(FIELDS, FIELDS)
def test_other_fields_have_another_hash(one: list[tuple[str, str]], other: list[tuple[str, str]]) -> None:
    """Law: equal hash exactly for equal fields; only the order of different names is free."""

    def known(fields: list[tuple[str, str]]) -> dict[str, list[str]]:
        found: dict[str, list[str]] = {}
        for name, value in fields:
            if name not in ("csrf", "op"):
                found.setdefault(name, []).append(value)
        return found

    same = body_hash(Posted(tuple(one), ())) == body_hash(Posted(tuple(other), ()))
    assert same == (known(one) == known(other))


@given(FIELDS)
def test_token_and_operation_are_not_hashed(fields: list[tuple[str, str]]) -> None:
    plain = Posted(tuple(fields), ())
    assert body_hash(Posted((("csrf", "a"), *fields, ("op", "b")), ())) == body_hash(plain)


def test_another_photograph_has_another_hash() -> None:
    one, other = (Posted((), (("photos", photograph(shade)),)) for shade in (10, 200))
    assert body_hash(one) != body_hash(other)
    assert body_hash(one) != body_hash(Posted((), (("picture", photograph(10)),)))


@pytest.mark.parametrize(
    ("kept_ms", "back"),
    [("", 0), ("0", 0), ("90000", 90), ("-5", 0), ("1e9", 0), ("9" * 40, 0), (str(61 * 86_400_000), 0)],
)
def test_when_it_was_told(kept_ms: str, back: int) -> None:
    # Hand-worked: 90,000 ms are 90 s; what is no plausible waiting time counts as none.
    now = dt.datetime(2026, 11, 25, 20, 0, tzinfo=dt.UTC)
    request = Request({"type": "http", "headers": [(b"x-kept-ms", kept_ms.encode())]})
    assert told_at(request, now) == now - dt.timedelta(seconds=back)


@pytest.mark.parametrize(
    "path",
    [
        "//evil.test",
        "https://evil.test/",
        "/\\evil.test",
        "\\/evil.test",
        "/a\r\nSet-Cookie: x=1",
        "",
        "heap",
        "javascript:1",
    ],
)
def test_no_form_leads_away(path: str) -> None:
    assert local_path(path, "/home") == "/home"


@given(st.text(max_size=30))
def test_a_way_back_stays_here(path: str) -> None:
    """Law: whatever a form names, the way back begins with one slash and holds no line end."""
    found = local_path(path, "/home")
    assert re.match(r"/(?![/\\])", found)
    assert not re.search(r"[\r\n]", found)


# ---- answering -------------------------------------------------------------------------------------------------------


@pytest.fixture
def snag(uids: dict[str, str], token: str) -> dict[str, str]:
    return {"csrf": token, "op": OP, "what": "snag", "note": "chain is stiff"}


def test_the_same_operation_counts_once(
    client: TestClient, place: Place, uids: dict[str, str], snag: dict[str, str]
) -> None:
    address = f"/machine/{uids['Sorrel']}/tap"
    before = len(taps_in(place, uids["Sorrel"]))
    first = client.post(address, data=snag, headers={"x-outbox": "1"}).json()
    again = client.post(address, data=snag, headers={"x-outbox": "1"}).json()
    assert not first["replayed"] and again["replayed"]
    assert {**first, "replayed": True} == again
    assert first["change"] and first["handle"] and first["said"] == "Snag: chain is stiff"
    assert len(taps_in(place, uids["Sorrel"])) == before + 1


def test_the_same_operation_with_something_else_in_it_is_refused(
    client: TestClient, place: Place, uids: dict[str, str], snag: dict[str, str]
) -> None:
    address = f"/machine/{uids['Sorrel']}/tap"
    client.post(address, data=snag)
    before = len(taps_in(place, uids["Sorrel"]))
    answer = client.post(address, data=snag | {"note": "chain is slack"}, headers={"x-outbox": "1"})
    assert answer.status_code == 409
    assert answer.json()["kind"] == "operation"
    # On a page it can be sent as what it is: something new.
    page = client.post(address, data=snag | {"note": "chain is slack"})
    assert page.status_code == 409 and "chain is slack" in page.text and f'value="{OP}"' not in page.text
    assert len(taps_in(place, uids["Sorrel"])) == before


def test_another_device_may_use_the_same_operation_id(
    app: Starlette, client: TestClient, place: Place, uids: dict[str, str], snag: dict[str, str]
) -> None:
    address = f"/machine/{uids['Sorrel']}/tap"
    before = len(taps_in(place, uids["Sorrel"]))
    client.post(address, data=snag)
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as other:
        answer = other.post(address, data=snag | {"csrf": token_of(other.get("/").text), "note": "other"})
    assert answer.status_code == 303
    assert len(taps_in(place, uids["Sorrel"])) == before + 2


def test_the_same_operation_elsewhere_is_not_taken_for_the_one_that_was_carried_out(
    client: TestClient, place: Place, uids: dict[str, str], snag: dict[str, str]
) -> None:
    """The address says what a form is about as much as its fields do."""
    client.post(f"/machine/{uids['Sorrel']}/tap", data=snag)
    before = len(taps_in(place, uids["Bramble"]))
    answer = client.post(f"/machine/{uids['Bramble']}/tap", data=snag, headers={"x-outbox": "1"})
    assert (answer.status_code, answer.json()["kind"]) == (409, "operation")
    assert len(taps_in(place, uids["Bramble"])) == before


def test_what_a_browser_sends_again_as_another_device_counts_once(
    client: TestClient, place: Place, uids: dict[str, str], snag: dict[str, str]
) -> None:
    """Its cookie is gone, and so is the answer to what it sent before."""
    address = f"/machine/{uids['Sorrel']}/tap"
    before = len(taps_in(place, uids["Sorrel"]))
    first = client.post(address, data=snag, headers={"x-outbox": "1"}).json()
    client.cookies.clear()
    token = token_of(client.get("/").text)
    assert token != snag["csrf"]
    again = client.post(address, data=snag | {"csrf": token}, headers={"x-outbox": "1"}).json()
    assert again == first | {"replayed": True}
    assert len(taps_in(place, uids["Sorrel"])) == before + 1


@pytest.mark.parametrize("op", ["short", "x" * 65, "with space here", "é" * 10, "<script>alert"])
def test_what_cannot_be_an_operation_id_is_refused(
    client: TestClient, uids: dict[str, str], snag: dict[str, str], op: str
) -> None:
    answer = client.post(f"/machine/{uids['Sorrel']}/tap", data=snag | {"op": op})
    assert answer.status_code == 400
    assert "<script>alert" not in answer.text


def test_a_plain_form_comes_back_to_where_it_was_and_is_told(
    client: TestClient, uids: dict[str, str], snag: dict[str, str]
) -> None:
    back = f"/machine/{uids['Sorrel']}/walk?told=old&px=1"
    answer = client.post(f"/machine/{uids['Sorrel']}/tap", data=snag | {"back": back})
    assert answer.status_code == 303
    assert re.fullmatch(f"/machine/{uids['Sorrel']}/walk\\?px=1&told=\\w+", answer.headers["location"])
    page = Sheet(client.get(answer.headers["location"]))
    assert "Snag: chain is stiff." in page.text and page.form(button="Take it back")


def test_what_changed_nothing_is_told_so_and_offers_no_way_back(client: TestClient) -> None:
    page = Sheet(client.get("/?told=none"))
    assert "nothing was changed" in page.text
    assert not any("Take it back" in form.buttons for form in page.forms)


@pytest.mark.parametrize("told", ["", "nosuch", "'; drop table change; --", "<b>x</b>", "0" * 500])
def test_an_address_that_tells_of_no_change_is_an_ordinary_page(client: TestClient, told: str) -> None:
    answer = client.get("/", params={"told": told})
    assert answer.status_code == 200
    assert "<b>x</b>" not in answer.text and 'role="status"' not in answer.text


def test_who_told_it_is_in_the_journal(
    app: Starlette, client: TestClient, uids: dict[str, str], snag: dict[str, str]
) -> None:
    client.post(f"/machine/{uids['Sorrel']}/tap", data=snag, headers={"user-agent": "Some Mobile browser"})
    with app.state.store.reading() as reader:
        line = reader.changes(uids["Sorrel"], limit=1)[0]
    assert re.fullmatch("telephone [0-9a-f]{4}", line.who)


# ---- every form of every page ----------------------------------------------------------------------------------------


class Busy(Still):
    """One machine is being reckoned, so that its page offers to stop it; the answers of another are of this moment."""

    def look_at(self, uid: str, machine: Machine) -> Reckoned:
        found = super().look_at(uid, machine)
        if machine.nickname == "Sorrel":
            return replace(found, state="fresh", stale=False)
        if machine.nickname == "Bramble":
            return Reckoned(state="running", step="drawing", share=0.4, answers=found.answers, stale=True)
        return found


@pytest.fixture
def busy(place: Place) -> Iterator[TestClient]:
    with (
        Busy(place, n_futures=QUICK) as reckoner,
        TestClient(create_app(place, reckoner=reckoner), base_url="http://127.0.0.1", follow_redirects=False) as made,
    ):
        yield made


def pages_with_forms(place: Place, uids: dict[str, str]) -> list[str]:
    handles = live_in(place, uids)
    at_the_bench(place, uids["Sorrel"])
    found = [f"/machine/{uids['Bramble']}"]
    for path, nickname in cases():
        if nickname:
            path = path.replace("{uid}", uids[nickname]).replace("{handle}", handles[nickname])
        found.append(path)
    return found


def at_the_bench(place: Place, uid: str) -> None:
    """Something was left, something snapped, and something waits for the daytime."""
    sent = Sent(who="telephone 7f3a")
    leave(place, uid, "bag", "screws of the fairing", "", 1, (), sent)
    note_errand(place, uid, ErrandForm(kind="trip", words="to the painter"), sent)
    note_batch(place, uid, BatchForm(name="paint", components=("luggage_rack",)), sent)
    snags.snag(place, uid, "front_wheel", "snapped", sent)


def filled(form: Form) -> list[tuple[str, str]]:
    """The form as a hand fills it in: what must not be empty, the first of each choice, and its button."""
    fields = list(form.fields)
    for name, values in form.offered.items():
        if not any(key == name for key, _ in fields) and values:
            fields.append((name, values[0]))
    for (part, name), value in FILLED.items():
        if part in form.action and any(key == name for key, _ in fields):
            fields = [(key, value if key == name and not old else old) for key, old in fields]
    fields += [pressed for part, pressed in BUTTONS.items() if form.action.endswith(part)]
    return fields


def test_every_form_of_every_page_works_without_script(busy: TestClient, place: Place, uids: dict[str, str]) -> None:
    """Sent as it stands, filled where it must be: it comes back by 303 to a page that says what was done.

    Each is taken back afterwards, by the button on that page, so that all are tried on the same state.
    """
    seen: set[tuple[str, str]] = set()
    for address in pages_with_forms(place, uids):
        first = busy.get(address)
        assert first.status_code == 200, address
        for number, form in enumerate(Sheet(first).forms):
            kind = pattern(busy.app, form.action)
            if not kind:
                # It asks, and writes nothing.
                assert busy.get(form.action.partition("#")[0], params=form.fields).status_code == 200, form.action
                continue
            # A form that stands on many pages, as that of the five taps, is tried on the first of them.
            ways = ",".join(value for name, value in form.fields if name == "as")
            if (kind, ways) in seen:
                continue
            seen.add((kind, ways))
            fresh = read(busy, address).forms[number]
            page = sent_and_back(busy, fresh, (address, fresh.action, filled(fresh)))
            if form.action.endswith(TELLS_NOTHING):
                continue
            assert page.forms and 'role="status"' in page.html, (address, form.action)
            if kind != "/undo" and "nothing was changed" not in page.text:
                sent_and_back(busy, page.way_back(), (address, form.action, "taken back"))
    served = {route.path for route in busy.app.routes if isinstance(route, Route) and "POST" in (route.methods or ())}
    # Stopping is the second button of the form that says done (tests/web/test_card_page.py).
    assert {kind for kind, _ in seen} == served - {"/machine/{uid}/card/{key}/stop"}


def sent_and_back(client: TestClient, form: Form, what: object) -> Told:
    """The page that follows on a form. Without script, so a form that is handed on is sent once more (307)."""
    fields = [(name, (None, value.encode())) for name, value in filled(form)]
    answer = client.post(form.action, files=fields)
    if answer.status_code == 307:
        answer = client.post(answer.headers["location"], files=fields)
    assert answer.status_code == 303, (what, Sheet(answer).text)
    page = client.get(answer.headers["location"].partition("#")[0])
    if page.status_code == 303:
        # What was taken back has no page of its own any more.
        page = client.get(page.headers["location"])
    assert page.status_code == 200, (what, answer.headers["location"])
    return Told(page)


class Told(Sheet):
    """A page with what it was made of."""

    def __init__(self, response: Any) -> None:
        super().__init__(response)
        self.html: str = response.text

    def way_back(self) -> Form:
        """The form that takes back what was just told: the first of its kind."""
        found = [form for form in self.forms if "Take it back" in form.buttons]
        assert found, self.text
        return found[0]


def pattern(app: Starlette, address: str) -> str:
    """The route that a form is posted to; empty: none."""
    from starlette.routing import Match

    scope = {"type": "http", "path": address.partition("?")[0], "method": "POST", "headers": [], "root_path": ""}
    found = [route.path for route in app.routes if isinstance(route, Route) and route.matches(scope)[0] == Match.FULL]
    return found[0] if found else ""


def test_every_form_carries_token_and_operation_and_may_carry_its_files(
    client: TestClient, place: Place, uids: dict[str, str]
) -> None:
    ops: list[str] = []
    for address in pages_with_forms(place, uids):
        text = client.get(address).text
        for html in re.findall(
            r"<form.*?</form>", re.sub(r"<template.*?</template>", "", text, flags=re.DOTALL), re.DOTALL
        ):
            head = html.partition(">")[0]
            if 'method="get"' in head:
                assert "csrf" not in html, "a token stays out of addresses"
                continue
            assert 'method="post"' in head, head
            assert html.count('name="csrf"') == 1 and html.count('name="op"') == 1, (address, head)
            assert ('type="file"' not in html) or 'enctype="multipart/form-data"' in head, (address, head)
            ops += re.findall(r'name="op" value="(\w+)"', html)
    assert len(ops) == len(set(ops)) > 20, "each form has an operation of its own"


def test_the_two_machines_that_are_looked_at_are_different_kinds(client: TestClient) -> None:
    """The pages differ by whether the machine is bought; both ways are among those tested."""
    text = client.get("/").text
    assert all(nickname in text for nickname in MACHINES)
