"""The walk-round: eight lines, a station's view to tap, three taps for a finding, with and without a script."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.browser import PHONE, Watch, violations, wait_for
from tests.web.sheet import follow, read, send
from tests.web.telling import chosen, lines, photograph
from wreckwright.acts.machines import NewMachine, load_record, new_machine
from wreckwright.acts.photographs import keep
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.record.types import Finding
from wreckwright.trade.load import load_trade
from wreckwright.web.pages_walk import noting_address

TRADE = load_trade()


def findings(place: Place, uid: str) -> tuple[Finding, ...]:
    with open_memory(place).reading() as reader:
        return reader.machine(uid).findings


def walk(uids: dict[str, str], station: str = "", nickname: str = "Sorrel") -> str:
    return f"/machine/{uids[nickname]}/walk" + (f"/{station}" if station else "")


def test_eight_stations_in_walking_order_the_next_one_first(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, walk(uids))
    at = [address for _, address, _ in page.links if address.startswith(walk(uids) + "/")]
    # hand-worked from examples/sorrel.toml: nobody has stood ten paces off, so that comes first, and then the list.
    assert at[0] == walk(uids, "ten_paces")
    assert at[1:] == [walk(uids, station) for station in TRADE.stations]
    assert [name for name, _, has in page.links if has.get("aria-current") == "step"] == [
        "1 · Ten paces off, papers and keys in hand"
    ]
    assert "2 found; the rest was looked at: fine" in page.text and "Not looked at yet" in page.text
    assert "Left side" in page.text  # a finding of a whole side belongs to no station


def test_the_photographs_of_a_new_machine_are_shown(client: TestClient, place: Place) -> None:
    sha = keep(place, photograph(12))
    new = new_machine(place, NewMachine(machine_class="naked", year="2018", photographs=(sha,)), Sent(who="somebody"))
    page = client.get(walk({"Sorrel": new.uid})).text
    assert f'src="/picture/{sha}?px=320"' in page


def test_the_way_to_write_down_a_suspicion() -> None:
    # hand-worked from station_regions.csv and stations.csv: an axle is seen from nowhere.
    assert noting_address("m1", TRADE, "brake_pedal") == (
        "/machine/m1/walk/right_flank?part=pedal&component=brake_pedal#note"
    )
    assert noting_address("m1", TRADE, "front_axle") == "/machine/m1/findings?component=front_axle"


def test_at_the_last_station_the_way_leads_on_to_the_answer(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, walk(uids, "seat_up"))
    # hand-worked from examples/sorrel.toml: nobody has stood ten paces off.
    assert page.link("See what that changes") == f"/machine/{uids['Sorrel']}"
    assert page.link("Left out so far: Ten paces off, papers and keys in hand") == walk(uids, "ten_paces")


def test_a_station_that_is_not_there_is_said_in_words(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, walk(uids, "roof"))
    assert page.status == 404 and "no station" in page.text and "one of its 8 stations" in page.text.lower()
    assert read(client, "/machine/nobody/walk").status == 404
    assert read(client, "/machine/nobody/walk/nose_on").status == 404


@pytest.mark.parametrize("station", list(TRADE.stations))
def test_every_station_shows_its_view_and_its_regions(client: TestClient, uids: dict[str, str], station: str) -> None:
    page = read(client, walk(uids, station))
    assert page.status == 200
    assert page.text.count(TRADE.stations[station].name) >= 1
    drawn = [name for name, _, has in page.links if has.get("hx-target") == "#look"]
    # hand-worked: Sorrel is a tourer, which lacks no whole region; each is in the picture and in the list.
    for row in TRADE.station_regions[station]:
        assert sum(name == row.name or name.startswith(f"{row.name}: ") for name in drawn) == 2, row.name


def test_what_to_take_care_of_is_said_first(client: TestClient, uids: dict[str, str]) -> None:
    assert "Take care. Nobody under a machine on its side stand" in read(client, walk(uids, "on_knees")).text
    battery = read(client, f"{walk(uids, 'seat_up')}?part=battery").text
    assert "no flame or charger near fuel" in battery and "Charging gives hydrogen" in battery
    assert "Take care" not in read(client, walk(uids, "nose_on")).text


def test_parts_a_class_lacks_are_not_asked_for(client: TestClient, uids: dict[str, str], place: Place) -> None:
    lacking = TRADE.classes["tourer"].absent_components
    assert "quick_shift_sensor" in lacking
    page = read(client, f"{walk(uids, 'left_flank')}?part=footrest")
    assert "Gear lever and rod" in page.text and "Quick-shift sensor" not in page.text


def test_three_taps_and_a_finding_is_noted(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    page = read(client, walk(uids, "nose_on"))
    page = read(client, page.link("Fork legs"))  # first tap
    page = read(client, page.link("Fork seals and bushes"))  # second
    form = page.form("What is wrong: Fork seals and bushes")
    after = follow(client, send(client, form))  # third
    (new,) = findings(place, uids["Sorrel"])[len(before) :]
    assert (new.component, new.severity, new.missing, new.looked_fine) == ("fork_seals", 2, False, False)
    assert "Noted: Fork seals and bushes: works badly." in after.text
    assert after.form(button="Take it back").value("change")
    # The same station again: the region is still open and says what was found; the next station is a tap away.
    assert any(name == "Fork legs: 1 found" for name, _, _ in after.links)
    assert "Works badly" in after.text
    assert after.link("Next: On your knees, lamp underneath") == walk(uids, "on_knees")


def test_taking_it_back_brings_the_station_as_it_was(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    page = read(client, f"{walk(uids, 'nose_on')}?part=legs&component=fork_seals")
    after = follow(client, send(client, page.form("What is wrong: Fork seals and bushes")))
    follow(client, send(client, after.form(button="Take it back")))
    assert findings(place, uids["Sorrel"]) == before
    assert "Fork legs: 1 found" not in read(client, walk(uids, "nose_on")).text


def test_a_region_of_one_component_needs_no_second_tap(client: TestClient, uids: dict[str, str]) -> None:
    assert read(client, f"{walk(uids, 'nose_on')}?part=mudguard").form("What is wrong: Front mudguard")
    # What was found already is changed, not noted twice by accident.
    page = read(client, f"{walk(uids, 'right_flank')}?part=panel")
    assert not any(form.name.startswith("What is wrong") for form in page.forms)
    assert page.link("Change what was found of it: Side fairing or tank cover, right").endswith("/findings/fairing")


def test_all_that_can_be_said_is_kept(client: TestClient, uids: dict[str, str], place: Place) -> None:
    page = read(client, f"{walk(uids, 'nose_on')}?part=legs&component=fork_tube_l")
    form = page.form("What is wrong: Fork tube, left")
    send(client, form, photos=[("leg.jpg", photograph(7))], state="bad", severity="3", condition="creased")
    new = findings(place, uids["Sorrel"])[-1]
    assert (new.component, new.severity, new.condition, len(new.photos)) == ("fork_tube_l", 3, "creased", 1)
    page = read(client, f"{walk(uids, 'nose_on')}?part=lamp&component=indicator_fl")
    send(client, page.form("What is wrong: Front indicator, left"), state="missing")
    assert findings(place, uids["Sorrel"])[-1].missing
    page = read(client, f"{walk(uids, 'nose_on')}?part=lamp&component=horn")
    send(client, page.form("What is wrong: Horn"), state="fine", severity="3")
    horn = findings(place, uids["Sorrel"])[-1]
    # Of what is fine there is nothing to say of how bad it is.
    assert horn.looked_fine and horn.severity == 2


def test_the_same_sending_counts_once(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = len(findings(place, uids["Sorrel"]))
    form = read(client, f"{walk(uids, 'nose_on')}?part=legs&component=fork_seals").form(
        "What is wrong: Fork seals and bushes"
    )
    first = send(client, form, outbox=True).json()
    again = send(client, form, outbox=True).json()
    assert len(findings(place, uids["Sorrel"])) == before + 1
    assert (first["replayed"], again["replayed"]) == (False, True)
    assert (first["said"], first["change"]) == (again["said"], again["change"])
    other = send(client, form, outbox=True, condition="weeping")
    assert other.status_code == 409 and other.json()["kind"] == "operation"
    assert len(findings(place, uids["Sorrel"])) == before + 1


def test_the_rest_is_fine_in_one_tap(client: TestClient, uids: dict[str, str], place: Place) -> None:
    page = read(client, walk(uids, "on_knees"))
    form = page.form(button="The rest looked at: fine")
    assert form.outbox and form.refresh.startswith("#look ")
    after = follow(client, send(client, form))
    new = findings(place, uids["Sorrel"])[-1]
    assert (new.zone, new.looked_fine) == ("on_knees", True)
    assert "On your knees, lamp underneath: the rest is fine." in after.text
    assert "was looked at: fine" in after.text
    assert not any("The rest looked at: fine" in one.buttons for one in after.forms)
    follow(client, send(client, after.form(button="Take it back")))
    assert read(client, walk(uids, "on_knees")).form(button="The rest looked at: fine")


def test_walked_round_it_leads_to_what_that_changes(client: TestClient, uids: dict[str, str]) -> None:
    left = ("ten_paces", "right_flank", "on_knees", "seat_up", "left_flank")
    for station in left:
        send(client, read(client, walk(uids, station)).form(button="The rest looked at: fine"))
    page = read(client, walk(uids))
    assert "Walked round: " in page.text
    assert page.link("See what that changes") == f"/machine/{uids['Sorrel']}"
    assert (
        read(client, walk(uids, "seat_up")).link("Walked round: see what that changes") == f"/machine/{uids['Sorrel']}"
    )


def test_only_the_look_is_sent_when_only_the_look_is_asked_for(client: TestClient, uids: dict[str, str]) -> None:
    address = f"{walk(uids, 'nose_on')}?part=legs"
    whole = client.get(address)
    look = client.get(address, headers={"hx-request": "true", "hx-target": "look"})
    assert whole.text.count('id="look"') == look.text.count('id="look"') == 1
    assert "<html" in whole.text and "<html" not in look.text and "Tell it in passing" not in look.text
    # Whoever brings the count in the head up to date gets the whole page to pick it from.
    count = client.get(address, headers={"hx-request": "true", "hx-target": "heap-count"})
    assert 'id="heap-count"' in count.text


def test_what_is_asked_for_in_the_address_and_is_not_there_does_no_harm(
    client: TestClient, uids: dict[str, str]
) -> None:
    for query in ("part=nose", "part=legs&component=seat", "component=fork_seals", "part=%3Cscript%3E"):
        page = read(client, f"{walk(uids, 'nose_on')}?{query}")
        assert page.status == 200
        assert not any(form.name.startswith("What is wrong") for form in page.forms)


def test_a_mirrored_machine_is_walked_round_mirrored(client: TestClient, place: Place, tmp_path: Path) -> None:
    file = tmp_path / "heron.toml"
    file.write_text('nickname = "Heron"\nmachine_class = "naked"\nyear = 2001\nmirrored = true\n', encoding="utf-8")
    uid = load_record(place, file, sent=Sent(who="a test")).uid
    page = client.get(walk({"Sorrel": uid}, "right_flank"))
    assert "The flank with the gear lever, the side stand and the chain." in page.text
    assert page.text.count("Chain and sprockets") == 2
    assert "Chain and sprockets" not in client.get(walk({"Sorrel": uid}, "left_flank")).text


# With a script. -----------------------------------------------------------------------------------------------------


def test_on_a_telephone_three_taps_and_the_page_stays(
    page: Any, server: Any, uids: dict[str, str], place: Place
) -> None:
    before = len(findings(place, uids["Sorrel"]))
    page.goto(server.url + walk(uids, "nose_on"))
    page.evaluate("window.stayed = true")
    # On the left one of the two legs.
    page.locator("svg").get_by_role("link", name="Fork legs").tap(position={"x": 24, "y": 30})
    page.get_by_role("link", name="Fork seals and bushes").tap()
    form = page.get_by_role("form", name="What is wrong: Fork seals and bushes")
    form.wait_for()
    assert page.url.endswith("?part=legs&component=fork_seals")
    form.get_by_role("button", name="Save").tap()
    wait_for(lambda: len(findings(place, uids["Sorrel"])) == before + 1, what="it is stored")
    page.locator("svg").get_by_role("link", name="Fork legs: 1 found").wait_for()
    form.wait_for(state="detached")
    assert "Fork seals and bushes: works badly" in page.get_by_role("list", name="What was told just now").inner_text()
    page.get_by_role("button", name="Take it back").tap()
    wait_for(lambda: len(findings(place, uids["Sorrel"])) == before, what="it is taken back")
    assert page.evaluate("window.stayed"), "the page was loaded anew"


MISSED = """() => {
  const missed = [];
  for (const link of document.querySelectorAll('svg.walkview a')) {
    const name = link.getAttribute('aria-label');
    const wash = link.querySelector('path');
    window.scrollTo(0, link.getBoundingClientRect().top + window.scrollY - 80);
    const onto = wash.getScreenCTM(), seen = wash.getBBox();
    let points = 0;
    for (let y = seen.y; y < seen.y + seen.height; y += 6) for (let x = seen.x; x < seen.x + seen.width; x += 6) {
      const point = new DOMPoint(x, y);
      if (!wash.isPointInFill(point)) continue;
      points += 1;
      const at = point.matrixTransform(onto);
      if (document.elementFromPoint(at.x, at.y)?.closest('a') !== link) missed.push(`${name} at ${x}, ${y}`);
    }
    // A square of 48 px holds 8 by 8 points that are 6 apart.
    if (points < 64) missed.push(`${name}: only ${points} points`);
  }
  return missed;
}"""
"""Points of each region that a finger would not hit, or that belong to another one."""


def test_a_thumb_on_a_region_hits_it_whatever_is_drawn_there(page: Any, server: Any, uids: dict[str, str]) -> None:
    for station in TRADE.stations:
        page.goto(server.url + walk(uids, station))
        assert page.locator("svg.walkview a").count() == len(TRADE.station_regions[station])
        assert page.evaluate(MISSED) == [], station


def test_without_a_script_a_region_is_a_link(new_context: Any, server: Any, uids: dict[str, str], place: Place) -> None:
    page = new_context(**PHONE, java_script_enabled=False).new_page()
    before = len(findings(place, uids["Sorrel"]))
    page.goto(server.url + walk(uids, "nose_on"))
    page.locator("svg").get_by_role("link", name="Mudguard").tap()
    form = page.get_by_role("form", name="What is wrong: Front mudguard")
    form.get_by_text("Looks: only its looks suffer").tap()
    form.get_by_role("button", name="Save").tap()
    page.get_by_role("status").get_by_text("Noted: Front mudguard: looks.").wait_for()
    assert len(findings(place, uids["Sorrel"])) == before + 1


def test_a_finding_waits_on_the_telephone_with_its_photograph(
    page: Any, server: Any, uids: dict[str, str], place: Place, watch: Watch
) -> None:
    before = len(findings(place, uids["Sorrel"]))
    page.goto(server.url + f"{walk(uids, 'nose_on')}?part=legs&component=fork_seals")
    watch.outage()
    page.context.set_offline(True)
    form = page.get_by_role("form", name="What is wrong: Fork seals and bushes")
    form.get_by_label("What is wrong, in a few words").fill("weeping")
    form.get_by_label("Photograph").set_input_files([chosen(data=photograph(11))])
    form.get_by_role("button", name="Save").tap()
    lines(page).filter(has_text="Fork seals and bushes, 1 photograph").filter(has_text="kept on this phone").wait_for()
    assert len(findings(place, uids["Sorrel"])) == before
    page.context.set_offline(False)
    wait_for(lambda: len(findings(place, uids["Sorrel"])) == before + 1, what="it is stored")
    new = findings(place, uids["Sorrel"])[-1]
    assert (new.component, new.condition, len(new.photos)) == ("fork_seals", "weeping", 1)
    page.locator("svg").get_by_role("link", name="Fork legs: 1 found").wait_for()


def test_what_is_fine_is_not_counted_as_found(client: TestClient, uids: dict[str, str]) -> None:
    for state in ("bad", "fine"):
        form = read(client, f"{walk(uids, 'nose_on')}?part=lamp&component=horn").form("What is wrong: Horn")
        send(client, form, state=state)
    page = read(client, f"{walk(uids, 'nose_on')}?part=lamp")
    assert any(name == "Headlamp, indicators, horn: 1 found" for name, _, _ in page.links)


def test_a_tap_without_an_answer_is_not_passed_over(page: Any, server: Any, uids: dict[str, str], watch: Watch) -> None:
    page.goto(server.url + walk(uids, "nose_on"))
    watch.outage()
    page.context.set_offline(True)
    page.locator("svg").get_by_role("link", name="Mudguard").tap()
    page.get_by_role("alert").get_by_text("The workbench does not answer.").wait_for()
    page.context.set_offline(False)
    page.locator("svg").get_by_role("link", name="Mudguard").tap()
    page.get_by_role("form", name="What is wrong: Front mudguard").wait_for()
    assert page.get_by_role("alert").count() == 0


@pytest.mark.parametrize("query", ["", "?part=legs&component=fork_seals"])
def test_the_view_can_be_used_without_seeing_it(page: Any, server: Any, uids: dict[str, str], query: str) -> None:
    page.goto(server.url + walk(uids, "nose_on") + query)
    assert violations(page) == []


def test_a_sign_is_said_in_one_tap_and_taken_back(client: TestClient, uids: dict[str, str], place: Place) -> None:
    def signs() -> dict[str, bool]:
        with open_memory(place).reading() as reader:
            return {one.sign: one.seen for one in reader.machine(uids["Sorrel"]).signs}

    # hand-worked from examples/sorrel.toml: a scrape on one side is seen, no ripple under the clamp.
    assert signs() == {"one_side_scrape_right": True, "fork_ripple_under_clamp": False}
    text = TRADE.signs["wheel_flat_spot"].text
    page = read(client, walk(uids, "nose_on"))
    after = follow(client, send(client, page.form(text), seen="seen"))
    assert signs()["wheel_flat_spot"] is True and f"{text}: seen" in after.text
    after = follow(client, send(client, after.form(text), seen="not_there"))
    assert signs()["wheel_flat_spot"] is False
    follow(client, send(client, after.form(text), seen="unknown"))
    assert "wheel_flat_spot" not in signs()
