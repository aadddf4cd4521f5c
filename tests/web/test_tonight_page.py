"""Tonight: what was left loose first, then the one next thing; start, stop, done and loose ends, each taken back.

Lists are made up by hand (tests/web/plan_made_up.py); what is written is read back from the memory.
"""

from __future__ import annotations

from typing import Any

import msgspec
import pytest
from starlette.testclient import TestClient

from tests.web import plan_made_up as made
from tests.web.browser import PHONE, SIDEWAYS, SMALL_CONTROLS, SMALL_LETTERS, Live, Watch, violations, wait_for
from tests.web.sheet import Sheet, follow, read, send
from tests.web.states import HX, in_state
from tests.web.telling import lines, photograph
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.plan_shapes import TonightPage
from wreckwright.acts.reckon import Reckoner
from wreckwright.errors import EntryError
from wreckwright.record.types import Machine
from wreckwright.web import pages_tonight
from wreckwright.web.plan_view import hours_words

WORK = "water_pump"
"""Work of examples/sorrel.toml."""


def machine(place: Place, uid: str) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uid)


def shows(monkeypatch: pytest.MonkeyPatch, page: TonightPage, uid: str) -> str:
    """From now on the page of `uid` shows what is made up; its address."""
    page = msgspec.structs.replace(page, head=msgspec.structs.replace(page.head, uid=uid))
    monkeypatch.setattr(pages_tonight, "tonight_page", lambda *_, **__: page)
    return f"/machine/{uid}/tonight"


# ---- What it says ---------------------------------------------------------------------------------------------------


def test_what_was_left_loose_comes_first_then_the_next_thing(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    page = read(client, shows(monkeypatch, made.tonight_page(), uids["Sorrel"]))
    wanted = (
        "Left loose, 2 things: these first", "Lower fork clamp, both screws, 2 of them", "Intake ports, 4 of them",
        "2 h", "Then", "Try on the left mirror", "can be sent back until 2 December 2026", "2 loose ends first.",
        "After that", "First: fuel tank off, then right fairing off.", "Take care. Coolant is poisonous",
        "Film it: How the hoses run.", "First: fuel tank on.", "Only if that ends in yes:", "Set the chain",
        "Not to be ended tonight;", "Why in this order", "4 hours of evenings hang on it.",
        "Open at the end of it: right fairing.",
    )  # fmt: skip
    text = " ".join(page.text.split())
    places = [text.index(words) for words in wanted]
    assert places == sorted(places), sorted(zip(places, wanted, strict=True))
    # The words before a test are said once, however many pieces of work come after it.
    assert text.count("Only if that ends in yes:") == 1


def test_only_the_next_thing_can_be_started_from_the_list(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    uid = uids["Sorrel"]
    page = read(client, shows(monkeypatch, made.tonight_page(), uid))
    assert [form.action for form in page.forms if "/start" in form.action] == [
        f"/machine/{uid}/card/mirror_left%3Atry_on/start"
    ]
    assert page.link("Take the old radiator off") == f"/machine/{uid}/card/radiator%3Astrip"


def test_of_a_look_is_told_what_came_of_it(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Nothing is begun there: it is over before the clock is worth a tap."""
    look = made.tonight(entries=(made.entry("look:tyres", "Tyre depth", 4, "It tells.", kind="look"),))
    page = read(client, shows(monkeypatch, made.tonight_page(tonight=look, loose=()), uids["Sorrel"]))
    assert page.form("What came of it: Tyre depth").action == f"/machine/{uids['Sorrel']}/look/tyres"
    assert not [form for form in page.forms if form.action.endswith("/start")]
    batch = made.tonight(entries=(made.entry("batch:b1", "Bring the paint", 40, "It is gathered."),))
    page = read(client, shows(monkeypatch, made.tonight_page(tonight=batch, loose=()), uids["Sorrel"]))
    assert not [form for form in page.forms if form.action.endswith("/start")]


def test_whoever_is_at_something_sees_that_first_and_starts_nothing_else(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    uid = uids["Sorrel"]
    at_it = msgspec.structs.replace(made.AT_IT, uid=uid)
    page = read(client, shows(monkeypatch, made.tonight_page(running=(at_it,)), uid))
    assert page.text.index("You are at it") < page.text.index("Left loose")
    assert not [form for form in page.forms if form.action.endswith("/start")]
    form = page.form("End of it: Fit the fork legs")
    assert form.buttons == ["Done", "Done and closed up", "Stop for now"]
    assert form.outbox and form.refresh.startswith("#plan ")


def test_what_somebody_is_at_is_not_on_the_list_as_well(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    uid = uids["Sorrel"]
    at_it = msgspec.structs.replace(made.AT_IT, uid=uid, key="mirror_left:try_on", name="Try on the left mirror")
    page = read(client, shows(monkeypatch, made.tonight_page(running=(at_it,), loose=()), uid))
    assert page.text.count("Try on the left mirror") == 1
    assert page.text.index("Then") < page.text.index("Take the old radiator off")
    # The same work of another machine is another work.
    other = msgspec.structs.replace(at_it, uid="0191", nickname="Bramble")
    page = read(client, shows(monkeypatch, made.tonight_page(running=(other,), loose=()), uid))
    assert " ".join(page.text.split()).count("Try on the left mirror") >= 2 and "Bramble" in page.text


def test_a_forgotten_clock_asks_how_long_it_took(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    forgot = msgspec.structs.replace(made.AT_IT, uid=uids["Sorrel"], forgotten=True, minutes=900)
    page = read(client, shows(monkeypatch, made.tonight_page(running=(forgot,)), uids["Sorrel"]))
    assert "How long did it take?" in page.text and "15 h" not in page.text
    assert "minutes" in dict(page.form("End of it: Fit the fork legs").fields)


def test_an_empty_list_says_why(client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch) -> None:
    empty = made.tonight(entries=(), nothing="All that is left to do waits for the rim.", left_open=())
    page = read(client, shows(monkeypatch, made.tonight_page(tonight=empty, loose=()), uids["Sorrel"]))
    assert "All that is left to do waits for the rim." in page.text
    assert "After that" not in page.text and "Left loose," not in page.text


def test_what_the_last_change_did_is_told_until_something_newer(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch
) -> None:
    page = read(client, shows(monkeypatch, made.tonight_page(standing=made.MOVED), uids["Sorrel"]))
    text = " ".join(page.text.split())
    assert "Finished, half by: 1 March 2027 before, now 19 March 2027" in text
    assert "After: Fit the fork legs: stub snapped." in text
    assert "This is the former order, mended at once." in text
    stale = msgspec.structs.replace(made.MOVED, stale=True, state="running")
    page = read(client, shows(monkeypatch, made.tonight_page(standing=stale), uids["Sorrel"]))
    assert "What the last change did" not in page.text


def test_every_machine_in_its_turn(client: TestClient, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(pages_tonight, "tonight_all", lambda *_, **__: made.tonight_all())
    page = read(client, "/tonight")
    text = " ".join(page.text.split())
    assert text.index("Sorrel Left loose, this first") < text.index("Then: Take the old radiator off, 45 min")
    assert text.index("Then: Take the old radiator off") < text.index("Bramble")
    assert "Expected next: 4 December 2026." in text
    # Calls of all machines together; what is on one day is one trip.
    calls = text.index("Calls for the lunch break")
    assert calls < text.index("Sorrel: Ring the office") < text.index("Bramble: Ring the office")
    assert text.index("One trip on 3 December 2026") < text.index("Bramble: To the alignment bench")
    assert "It steers: not yet." in text
    assert page.link("All of it: Sorrel, 2 h") == "/machine/0190/tonight?hours=2"
    assert page.link("All of it: Bramble, 12 min") == "/machine/0191/tonight?hours=0.2"


def test_hours_are_said_as_one_says_them() -> None:
    # hand-worked
    assert [hours_words(one) for one in (0.25, 1.75, 2.0, 2.0 / 3.0, 10.0)] == ["¼ h", "1¾ h", "2 h", "40 min", "10 h"]


@pytest.mark.parametrize("typed", ["-1", "25", "soon", "nan", "inf", "1e9"])
def test_hours_that_no_evening_has_are_refused_in_words(client: TestClient, uids: dict[str, str], typed: str) -> None:
    answer = client.get(f"/machine/{uids['Sorrel']}/tonight", params={"hours": typed})
    assert answer.status_code == 422 and "Say how long you have tonight." in answer.text


# ---- With the real lists --------------------------------------------------------------------------------------------


def test_another_length_of_evening_makes_another_list(client: TestClient, uids: dict[str, str]) -> None:
    short, long, odd = (
        read(client, f"/machine/{uids['Sorrel']}/tonight?hours={hours}") for hours in ("0,5", "4", "2.25")
    )
    assert short.status == long.status == 200
    # One that is among those to tap is marked there, another one is said.
    assert "For ½ h" not in " ".join(short.text.split()) and "For 2¼ h" in " ".join(odd.text.split())
    ours = [[words for words, address, _ in page.links if "/card/" in address] for page in (short, long)]
    assert len(set(ours[1])) > len(set(ours[0])) >= 1


def test_a_lot_that_is_not_bought_has_no_evening(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, f"/machine/{uids['Magpie']}/tonight")
    assert page.status == 200
    assert not [form for form in page.forms if form.action.endswith("/start")]
    assert "not bought" in page.text


def test_what_does_not_exist_is_not_there(client: TestClient) -> None:
    assert client.get("/machine/nobody/tonight").status_code == 404


# ---- Loose ends -----------------------------------------------------------------------------------------------------


def leave(client: TestClient, uid: str, what: str = "loose", **values: Any) -> Sheet:
    form = read(client, f"/machine/{uid}/tonight").form("Leave something for next time")
    form.fields.append(("what", what))
    return follow(client, send(client, form, photos=[("a.jpg", photograph(3))], **values))


def test_something_left_is_the_first_line_of_the_next_evening(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    page = leave(client, uid, note="rear axle nut", count="2")
    (one,) = machine(place, uid).loose_ends
    assert (one.what, one.words, one.count, len(one.photos), one.closed) == ("loose", "rear axle nut", 2, 1, False)
    text = page.text
    assert text.index("Left loose: this first") < text.index("Rear axle nut, 2 of them") < text.index("½ h")
    # Seen to, it is gone from there; taken back, it is there again.
    page = follow(client, send(client, page.form("Seen to: rear axle nut")))
    assert machine(place, uid).loose_ends[0].closed and "this first" not in page.text
    page = follow(client, send(client, page.form(button="Take it back")))
    assert not machine(place, uid).loose_ends[0].closed and "this first" in page.text


def test_a_tap_at_the_foot_of_a_page_becomes_a_loose_end(
    client: TestClient, uids: dict[str, str], place: Place, token: str
) -> None:
    """Told in passing, it lies on the heap; its likeliest meaning is that it must not be forgotten."""
    uid = uids["Sorrel"]
    for what, words in (("left_loose", "rear axle nut"), ("bag", "tail screws")):
        client.post(f"/machine/{uid}/tap", data={"csrf": token, "what": what, "note": words})
        heap = read(client, f"/machine/{uid}/heap")
        (form,) = [form for form in heap.forms if ("as", "loose_end") in form.fields]
        follow(client, send(client, form))
    assert [(one.what, one.words) for one in machine(place, uid).loose_ends] == [
        ("loose", "rear axle nut"), ("bag", "tail screws"),
    ]  # fmt: skip
    page = read(client, f"/machine/{uid}/tonight")
    assert "Left loose, 2 things: these first" in page.text
    assert {"Seen to: rear axle nut", "Seen to: tail screws"} <= {form.name for form in page.forms}


@pytest.mark.parametrize(("what", "button"), [("loose", "It is tight now"), ("bag", "The bag is emptied"),
                                              ("rags", "All are out again")])  # fmt: skip
def test_each_kind_of_loose_end_is_ended_in_its_own_words(
    client: TestClient, uids: dict[str, str], what: str, button: str
) -> None:
    assert button in leave(client, uids["Sorrel"], what).form("Seen to: ", button=button).buttons


@pytest.mark.parametrize("data", [{"what": "spaceship"}, {}, {"what": "rags", "count": "0"},
                                  {"what": "rags", "count": "many"}, {"what": "loose", "work": "no_such"}])  # fmt: skip
def test_what_cannot_be_left_is_refused(
    client: TestClient, uids: dict[str, str], place: Place, token: str, data: dict[str, str]
) -> None:
    answer = client.post(f"/machine/{uids['Sorrel']}/loose", data={"csrf": token, **data})
    assert answer.status_code in (404, 422)
    assert machine(place, uids["Sorrel"]).loose_ends == ()


def test_counts_are_whole() -> None:
    assert [pages_tonight.count_of(text) for text in ("", "1", "1000")] == [1, 1, 1000]
    for text in ("0", "1001", "-2", "2.5", "x"):
        with pytest.raises(EntryError):
            pages_tonight.count_of(text)


# ---- While it is reckoned -------------------------------------------------------------------------------------------


def test_it_asks_for_its_part_until_it_is_there(
    client: TestClient, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner
) -> None:
    uid = uids["Sorrel"]
    at = f"/machine/{uid}/tonight?part=1"
    still = client.get(f"/machine/{uid}/tonight").text
    seen = still.partition("seen=")[2].partition('"')[0]
    assert seen and client.get(f"{at}&seen={seen}", headers=HX).status_code == 204
    other = client.get(f"{at}&seen=0", headers=HX)
    assert other.headers["HX-Retarget"] == "#plan" and 'id="plan"' in other.text and "<h1>" not in other.text
    # Without a script the same address is a page.
    assert "<h1>" in client.get(at).text
    in_state(monkeypatch, reckoner, uid, state="running", step="looking for a better order", share=0.42, stale=True)
    html = client.get(f"/machine/{uid}/tonight").text
    assert 'value="42"' in html and "Looking for a better order." in html and "Stop reckoning" in html
    part = client.get(at, headers=HX)
    assert "HX-Retarget" not in part.headers and "<progress" in part.text and 'id="plan"' not in part.text
    in_state(monkeypatch, reckoner, uid, state="stopped", why="It was stopped.")
    stopped = client.get(at, headers=HX)
    assert stopped.headers["HX-Retarget"] == "#reckon" and "Reckon again" in stopped.text


def test_nothing_that_is_asked_for_again_hands_its_asking_on(client: TestClient, uids: dict[str, str]) -> None:
    """htmx hands its attributes on to what stands inside: an element that asks holds no other one that does."""
    html = client.get(f"/machine/{uids['Sorrel']}/tonight").text
    assert html.count("hx-get=") == 1
    assert "hx-" not in html.partition('id="plan"')[2].partition(">")[0]


# ---- In a browser ---------------------------------------------------------------------------------------------------


def fit_to_be_used(page: Any) -> None:
    sides = page.evaluate(SIDEWAYS)
    assert sides["page"] <= sides["screen"], sides
    assert page.evaluate(SMALL_CONTROLS) == []
    assert page.evaluate(SMALL_LETTERS) == []
    assert violations(page) == []


@pytest.mark.parametrize("busy", [False, True])
def test_a_full_evening_is_fit_for_a_cold_thumb(
    page: Any, desk_page: Any, server: Live, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch, busy: bool
) -> None:
    uid = uids["Sorrel"]
    running = (msgspec.structs.replace(made.AT_IT, uid=uid),) if busy else ()
    standing = made.RUNNING if busy else made.MOVED
    at = shows(monkeypatch, made.tonight_page(running=running, standing=standing), uid)
    for one in (page, desk_page):
        one.goto(server.url + at)
        fit_to_be_used(one)
    # What there is to do first is seen without scrolling, and is large.
    first = page.get_by_role("button", name="Done" if busy else "It is tight now", exact=True).first.bounding_box()
    assert first["y"] + first["height"] < 800 - 170 and first["height"] >= 56


def test_a_loose_end_that_is_seen_to_leaves_the_page_and_comes_back(
    page: Any, server: Live, uids: dict[str, str], place: Place, client: TestClient, watch: Watch
) -> None:
    uid = uids["Sorrel"]
    leave(client, uid, note="rear axle nut")
    page.goto(f"{server.url}/machine/{uid}/tonight")
    page.get_by_role("button", name="It is tight now").tap()
    wait_for(lambda: machine(place, uid).loose_ends[0].closed, what="it is stored")
    page.get_by_text("Left loose: this first").wait_for(state="hidden")
    lines(page).first.get_by_role("button", name="Take it back").tap()
    page.get_by_text("Left loose: this first").wait_for(state="visible")
    assert not machine(place, uid).loose_ends[0].closed


def test_what_is_being_typed_is_not_taken_away(
    page: Any, server: Live, uids: dict[str, str], monkeypatch: pytest.MonkeyPatch, reckoner: Reckoner, watch: Watch
) -> None:
    """The part comes when the reckoning is done, but not over a field in which somebody is typing."""
    uid = uids["Sorrel"]
    state = {"standing": made.RUNNING}

    def tonight_page(*_: Any, **__: Any) -> TonightPage:
        shown = made.tonight_page(running=(msgspec.structs.replace(made.AT_IT, uid=uid),), **state)
        return msgspec.structs.replace(shown, head=msgspec.structs.replace(shown.head, uid=uid))

    monkeypatch.setattr(pages_tonight, "tonight_page", tonight_page)
    page.goto(f"{server.url}/machine/{uid}/tonight")
    page.get_by_text("It took another time than the clock says").tap()
    page.get_by_label("Minutes it took").fill("25")
    state["standing"] = made.MOVED
    page.wait_for_timeout(2500)
    assert page.get_by_label("Minutes it took").input_value() == "25"
    page.get_by_label("Minutes it took").blur()
    page.get_by_text("What the last change did").wait_for(state="visible")
    # What was open stays open.
    assert page.get_by_label("Minutes it took").is_visible()


def test_all_of_it_works_without_a_script(
    new_context: Any, server: Live, uids: dict[str, str], place: Place
) -> None:
    uid = uids["Sorrel"]
    page = new_context(**(PHONE | {"java_script_enabled": False})).new_page()
    page.goto(f"{server.url}/machine/{uid}/card/{WORK}")
    page.get_by_role("button", name="Start").tap()
    page.get_by_role("status").get_by_text("Begun").wait_for()
    page.goto(f"{server.url}/machine/{uid}/tonight")
    page.get_by_role("button", name="Stop for now").tap()
    page.get_by_role("status").get_by_role("button", name="Take it back").tap()
    page.get_by_role("heading", name="You are at it").wait_for()
    (job,) = [one for one in machine(place, uid).jobs if one.stands_for == WORK]
    assert job.started_at is not None
    page.get_by_text("Leave something for next time").tap()
    page.get_by_label("What, and where").fill("rear axle nut")
    page.get_by_role("main").get_by_role("button", name="Left loose").tap()
    page.get_by_text("Left loose: this first").wait_for()
    page.get_by_role("link", name="3 h", exact=True).tap()
    page.locator("[aria-current=true]", has_text="3 h").wait_for()
