"""Findings: the list, one more in plain words, changing one, taking it away, and two who change the same one."""

from __future__ import annotations

from typing import Any

from starlette.testclient import TestClient

from tests.web.browser import Watch, wait_for
from tests.web.sheet import Sheet, follow, read, send
from tests.web.telling import lines, photograph
from wreckwright.acts.machines import NewMachine, new_machine
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.record.types import Finding


def findings(place: Place, uid: str) -> dict[str, Finding]:
    with open_memory(place).reading() as reader:
        return {finding.id: finding for finding in reader.machine(uid).findings}


def address(uids: dict[str, str], handle: str = "") -> str:
    return f"/machine/{uids['Sorrel']}/findings" + (f"/{handle}" if handle else "")


def note(client: TestClient, uids: dict[str, str], **values: Any) -> Any:
    return send(client, read(client, address(uids)).form("Note a finding"), **values)


def test_each_finding_is_a_line_with_what_was_understood(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, address(uids))
    # hand-worked from examples/sorrel.toml
    assert page.link("Water pump") == address(uids, "pump")
    assert "Written as “water pump cover cracked”" in page.text and "Coolant on the floor" in page.text
    assert "Scraped, no oil, perhaps thinned: works badly; only a suspicion" in page.text
    assert "The rest of it was looked at: fine" in page.text
    order = [words for words, to, _ in page.links if to.startswith(address(uids) + "/")]
    # hand-worked: of what is wrong the later first (the fairing before the stop), and what is fine (the fork) after it.
    fairing, stop, fork = map(order.index, ("Side fairing or tank cover, right", "Steering stop", "Fork tube, right"))
    assert fairing < stop < fork


def test_plain_words_are_understood(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    response = note(client, uids, what="left mirror cracked")
    (handle,) = set(findings(place, uids["Sorrel"])) - set(before)
    assert response.headers["location"].endswith(f"#{handle}")
    page = follow(client, response)
    assert "Noted: left mirror cracked." in page.text and page.form(button="Take it back")
    assert page.link("Mirror, left") == address(uids, handle)
    assert handle in page.ids


def test_words_that_mean_no_part_are_asked_back_and_kept(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = findings(place, uids["Sorrel"])
    page = Sheet(note(client, uids, what="disc warped", evidence="clip 4"))
    assert page.status == 422 and findings(place, uids["Sorrel"]) == before
    assert "nearest are" in page.text and "Front brake discs" in page.text
    form = page.form("Note a finding")
    assert (form.value("what"), form.value("evidence")) == ("disc warped", "clip 4")
    # With one of those it asks for, the same words do.
    assert form.offered["component"] == ["front_discs", "rear_disc", ""]
    follow(client, send(client, form, component="rear_disc"))
    (new,) = set(findings(place, uids["Sorrel"])) - set(before)
    assert findings(place, uids["Sorrel"])[new].component == "rear_disc"


def test_a_photograph_that_came_with_unclear_words_need_not_be_chosen_again(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = findings(place, uids["Sorrel"])
    first = Sheet(note(client, uids, what="disc warped", photos=[("a.jpg", photograph(7))])).form("Note a finding")
    # Asked back twice: what is sent in the end takes the place of both in the outbox.
    second = Sheet(send(client, first, what="odd thing")).form("Note a finding")
    assert len(second.value("settles").split()) == 2 and second.value("settles").split()[0] == first.value("settles")
    follow(client, send(client, second, what="rear disc warped"))
    (new,) = set(findings(place, uids["Sorrel"])) - set(before)
    # hand-worked: the one photograph of the first try, kept under the hash that both pages carried along.
    assert findings(place, uids["Sorrel"])[new].photos == (first.value("kept"),)


def test_a_hidden_part_is_noted_as_fine_without_a_word(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    before = findings(place, uids["Sorrel"])
    form = read(client, address(uids) + "?component=front_axle").form("Note a finding")
    assert form.value("component") == "front_axle"
    follow(client, send(client, form, state="fine"))
    (new,) = set(findings(place, uids["Sorrel"])) - set(before)
    noted = findings(place, uids["Sorrel"])[new]
    assert noted.component == "front_axle" and noted.looked_fine


def test_no_ids_stand_behind_the_names_that_are_offered(client: TestClient, uids: dict[str, str]) -> None:
    form = read(client, address(uids)).form("Note a finding")
    allowed = send(client, form, outbox=True, what="disc warped").json()["allowed"]
    assert "Front brake discs" in allowed and "front_discs" not in allowed
    assert "(front_discs)" not in Sheet(note(client, uids, what="disc warped")).text


def test_in_a_browser_unclear_words_are_put_right_on_the_page_and_leave_the_outbox(
    page: Any, server: Any, uids: dict[str, str], place: Place, watch: Watch
) -> None:
    watch.allow("422")
    before = findings(place, uids["Sorrel"])
    page.goto(server.url + address(uids))
    page.get_by_label("What was found, in plain words").fill("disc warped")
    page.get_by_role("button", name="Note it").tap()
    page.get_by_role("button", name="Put it right").tap()
    page.get_by_role("group", name="Which is meant").get_by_text("Rear brake disc", exact=True).tap()
    assert "Asked back on this page" in lines(page).first.inner_text()
    page.get_by_role("button", name="Note it").tap()
    wait_for(lambda: len(findings(place, uids["Sorrel"])) == len(before) + 1, what="it is stored")
    page.get_by_role("button", name="Let go").wait_for(state="detached")
    page.reload()
    page.get_by_role("heading", name="Looked at, and fine").wait_for()
    assert lines(page).count() == 0


def test_the_outbox_is_told_what_is_wrong(client: TestClient, uids: dict[str, str]) -> None:
    form = read(client, address(uids)).form("Note a finding")
    assert form.outbox and form.refresh == "#findings"
    refused = send(client, form, outbox=True, what="the thing is odd")
    assert refused.status_code == 422
    assert refused.json()["what"] and refused.json()["allowed"] and refused.json()["do"]
    taken = send(client, form, outbox=True, what="left mirror cracked", photos=[("a.jpg", photograph(3))])
    assert taken.json()["said"] == "Noted: left mirror cracked"


def test_nothing_said_is_nothing_noted(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    page = Sheet(note(client, uids, what="  "))
    assert page.status == 422 and "Nothing is said." in page.text
    assert findings(place, uids["Sorrel"]) == before


def test_a_value_that_no_form_offers_is_refused(client: TestClient, uids: dict[str, str], token: str) -> None:
    for field, value in (("severity", "4"), ("state", "gone"), ("severity", "two")):
        data = {"csrf": token, "component": "seat", field: value}
        assert client.post(address(uids), data=data, headers={"x-outbox": "1"}).status_code == 422
    refused = client.post(address(uids), data={"csrf": token, "component": "sofa"})
    assert refused.status_code == 422 and "sofa" in refused.text
    assert client.post(address(uids), data={"component": "seat"}).status_code == 403


def test_a_machine_without_findings_is_led_to_the_walk_round(client: TestClient, place: Place) -> None:
    told = new_machine(place, NewMachine(nickname="Heron", machine_class="naked", year="2015"), Sent(who="a test"))
    page = read(client, f"/machine/{told.uid}/findings")
    assert page.status == 200 and "Nothing is noted yet" in page.text
    assert page.link("Walk round it") == f"/machine/{told.uid}/walk"


def test_saving_an_untouched_form_changes_nothing(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    for handle in before:
        page = read(client, address(uids, handle))
        assert page.status == 200, handle
        after = follow(client, send(client, page.form("Change this finding")))
        assert findings(place, uids["Sorrel"]) == before, handle
        assert "It was so already; nothing was changed." in after.text


def test_only_what_was_touched_is_written(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])["rim"]
    form = read(client, address(uids, "rim")).form("Change this finding")
    page = follow(client, send(client, form, severity="3", photos=[("rim.jpg", photograph(5))]))
    after = findings(place, uids["Sorrel"])["rim"]
    assert (after.severity, len(after.photos)) == (3, 1)
    assert (after.what, after.evidence, after.sure) == (before.what, before.evidence, before.sure)
    assert "Changed the finding" in page.text
    # The photograph stays unless its tick is taken out; what is suspected is no work.
    form = read(client, address(uids, "rim")).form("Change this finding")
    assert form.value("photo") == after.photos[0]
    send(client, form, photo=[], sure="0.5", state="missing")
    last = findings(place, uids["Sorrel"])["rim"]
    assert (last.photos, last.sure, last.missing) == ((), 0.5, True)
    page = read(client, address(uids, "rim"))
    assert "Only a suspicion" in page.text


def test_two_who_change_different_things_both_have_their_way(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    one = read(client, address(uids, "pump")).form("Change this finding")
    two = read(client, address(uids, "pump")).form("Change this finding")
    assert send(client, one, condition="cracked through").status_code == 303
    assert send(client, two, evidence="clip 9").status_code == 303
    pump = findings(place, uids["Sorrel"])["pump"]
    assert (pump.condition, pump.evidence) == ("cracked through", "clip 9")


def test_two_who_change_the_same_are_shown_both(client: TestClient, uids: dict[str, str], place: Place) -> None:
    one = read(client, address(uids, "pump")).form("Change this finding")
    two = read(client, address(uids, "pump")).form("Change this finding")
    send(client, one, evidence="dry now", condition="cracked through")
    page = Sheet(send(client, two, evidence="still wet"))
    assert page.status == 409
    assert "dry now" in page.text and "still wet" in page.text
    assert findings(place, uids["Sorrel"])["pump"].evidence == "dry now"
    over = page.form(button="Write mine over it")
    # Between the two, once more: what was not seen is not written over.
    again = read(client, address(uids, "pump")).form("Change this finding")
    send(client, again, evidence="a drop")
    page = Sheet(send(client, over))
    assert page.status == 409 and "a drop" in page.text
    follow(client, send(client, page.form(button="Write mine over it")))
    pump = findings(place, uids["Sorrel"])["pump"]
    # What only the other one changed stays.
    assert (pump.evidence, pump.condition) == ("still wet", "cracked through")


def test_taken_away_and_back(client: TestClient, uids: dict[str, str], place: Place) -> None:
    before = findings(place, uids["Sorrel"])
    page = read(client, address(uids, "rack"))
    after = follow(client, send(client, page.form(button="Take this finding away")))
    assert set(before) - set(findings(place, uids["Sorrel"])) == {"rack"}
    assert "Taken away: finding, rack bent." in after.text
    assert read(client, address(uids, "rack")).status == 404
    follow(client, send(client, after.form(button="Take it back")))
    assert findings(place, uids["Sorrel"]) == before


def test_what_was_changed_meanwhile_is_not_taken_away(client: TestClient, uids: dict[str, str], place: Place) -> None:
    page = read(client, address(uids, "rack"))
    send(client, page.form("Change this finding"), evidence="seen again")
    refused = send(client, page.form(button="Take this finding away"))
    assert refused.status_code == 409 and "rack" in findings(place, uids["Sorrel"])


def test_letters_are_letters(client: TestClient, uids: dict[str, str]) -> None:
    page = follow(client, note(client, uids, what="left mirror cracked", evidence="<b>&amp;"))
    assert "<b>&amp;" in page.text
    response = client.get(address(uids))
    assert "<b>&amp;" not in response.text and "&lt;b&gt;&amp;amp;" in response.text
