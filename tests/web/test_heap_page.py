"""The five taps and the heap they fall on: one at a time, the likely thing first, nothing compulsory."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.testclient import TestClient

from tests.web.sheet import Form, Sheet, follow, read, send
from tests.web.telling import photograph, taps_in
from wreckwright.acts.place import Place, open_memory
from wreckwright.record.types import Machine
from wreckwright.web.pages_heap import WAYS
from wreckwright.web.render import TAPS


def heap(uids: dict[str, str]) -> str:
    return f"/machine/{uids['Sorrel']}/heap"


def machine(place: Place, uids: dict[str, str]) -> Machine:
    with open_memory(place).reading() as reader:
        return reader.machine(uids["Sorrel"])


def tell(client: TestClient, uids: dict[str, str], what: str, note: str = "", photos: Any = None) -> Any:
    """One of the five taps, as the foot of a page sends it."""
    form = read(client, f"/machine/{uids['Sorrel']}/walk").form("Tell it in passing")
    form.fields.append(("what", what))
    return send(client, form, note=note, photos=photos)


def sorted_(client: TestClient, page: Sheet, words: str, **values: Any) -> Sheet:
    return follow(client, send(client, page.form(words), **values))


def ways(page: Sheet) -> list[Form]:
    return [form for form in page.forms if "as" in dict(form.fields)]


def test_an_empty_heap_says_what_it_is_for(client: TestClient, uids: dict[str, str]) -> None:
    page = read(client, heap(uids))
    assert page.status == 200 and "Nothing to sort." in page.text and "parcel arrived" in page.text
    assert ways(page) == []
    assert read(client, "/machine/nobody/heap").status == 404


@pytest.mark.parametrize("what", [what for what, _ in TAPS])
def test_a_tap_is_kept_and_told_where_it_was_made(
    client: TestClient, uids: dict[str, str], place: Place, what: str
) -> None:
    response = tell(client, uids, what, note="by the bench", photos=[("a.jpg", photograph(8))])
    page = follow(client, response)
    assert response.headers["location"].startswith(f"/machine/{uids['Sorrel']}/walk?")
    (one,) = taps_in(place, uids["Sorrel"])
    assert (one.what, one.note, len(one.photos), one.decided) == (what, "by the bench", 1, False)
    assert page.link("1 to sort") == heap(uids) and page.form(button="Take it back")


def test_a_tap_that_does_not_exist_is_refused(client: TestClient, uids: dict[str, str], place: Place) -> None:
    assert tell(client, uids, "explode").status_code == 422
    assert taps_in(place, uids["Sorrel"]) == ()


def test_no_photograph_no_tap(client: TestClient, uids: dict[str, str], place: Place) -> None:
    assert tell(client, uids, "snag", photos=[("a.txt", b"no picture")]).status_code == 422
    assert taps_in(place, uids["Sorrel"]) == ()


def test_newest_first_one_open_the_likely_thing_first(client: TestClient, uids: dict[str, str]) -> None:
    for what, note in (("bag", "tail screws"), ("arrived", "pump cover"), ("snag", "rear brake drags")):
        tell(client, uids, what, note)
    page = read(client, heap(uids))
    assert "3 to sort" in page.text
    assert page.text.index("Snag: rear brake drags") < page.text.index("Arrived: pump cover")
    assert page.text.index("Arrived: pump cover") < page.text.index("tail screws")
    assert [dict(form.fields)["as"] for form in ways(page)] == ["finding", "part_wrong", "new_job", "note"]
    # Another one is opened by its line; an address that names none shows the newest.
    other = read(client, page.link("Arrived: pump cover"))
    assert [dict(form.fields)["as"] for form in ways(other)] == ["part_here", "new_part_here", "note"]
    assert ways(read(client, f"{heap(uids)}?tap=none"))[0].value("as") == "finding"


def test_every_tap_has_ways_and_may_stay_a_note() -> None:
    assert set(WAYS) == {what for what, _ in TAPS}
    for found in WAYS.values():
        assert "note" in [way.as_ for way in found]
        assert len({way.as_ for way in found}) == len(found)


def test_a_snag_becomes_a_finding_with_its_photographs(
    client: TestClient, uids: dict[str, str], place: Place
) -> None:
    tell(client, uids, "snag", "left mirror cracked", [("a.jpg", photograph(9))])
    page = sorted_(client, read(client, heap(uids)), "It is a finding")
    new = machine(place, uids).findings[-1]
    assert (new.what, len(new.photos)) == ("left mirror cracked", 1)
    assert (machine(place, uids).taps[0].decided, machine(place, uids).taps[0].became) == (True, new.id)
    assert "Sorted into a finding: left mirror cracked." in page.text
    assert "Nothing to sort." in page.text and "Became: left mirror cracked" in page.text
    # One change: taking it back brings the tap to the heap again and takes the finding away.
    follow(client, send(client, page.form(button="Take it back")))
    assert new.id not in [one.id for one in machine(place, uids).findings]
    assert "Snag: left mirror cracked" in read(client, heap(uids)).text


def test_words_that_mean_no_part_are_asked_back(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "snag", "it hums a bit")
    refused = Sheet(send(client, read(client, heap(uids)).form("It is a finding")))
    assert refused.status == 422 and "it hums a bit" in refused.text
    assert not taps_in(place, uids["Sorrel"])[0].decided
    page = sorted_(client, read(client, heap(uids)), "It is a finding", component="shock", severity="3")
    assert (machine(place, uids).findings[-1].component, machine(place, uids).findings[-1].severity) == ("shock", 3)
    assert "Nothing to sort." in page.text


def test_what_arrived_is_the_part_that_the_words_name(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "arrived", "the rim is here")
    form = read(client, heap(uids)).form("A part that was waited for is here")
    # hand-worked: of the three open parts of examples/sorrel.toml one is a rim; it stands first and is chosen.
    assert form.offered["target"][0] == "p_rim" and form.value("target") == "p_rim"
    assert set(form.offered["target"]) == {"p_rim", "p_pump", "p_lead"}
    follow(client, send(client, form))
    assert {part.id: part.state for part in machine(place, uids).parts}["p_rim"] == "here"


def test_no_part_is_chosen_beforehand_where_the_words_name_none(client: TestClient, uids: dict[str, str]) -> None:
    tell(client, uids, "arrived")
    form = read(client, heap(uids)).form("A part that was waited for is here")
    assert "target" not in dict(form.fields)
    refused = Sheet(send(client, form))
    assert refused.status == 422 and "no part line is named" in refused.text


def test_what_arrived_may_stand_in_no_list(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "arrived", "two pannier lids")
    sorted_(client, read(client, heap(uids)), "A part that stands in no list yet is here")
    new = machine(place, uids).parts[-1]
    assert (new.name, new.state) == ("two pannier lids", "here")


def test_what_is_done_closes_a_job(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "done")
    # hand-worked: one own job of examples/sorrel.toml is open, so it is chosen.
    sorted_(client, read(client, heap(uids)), "A job of the list is closed up")
    assert {job.id: job.state for job in machine(place, uids).jobs}["valves"] == "closed_up"
    tell(client, uids, "done", "chain oiled")
    page = read(client, heap(uids))
    # None is open now, so none is asked for.
    assert [dict(form.fields)["as"] for form in ways(page)] == ["part_fitted", "new_job", "note"]
    sorted_(client, page, "A job that stood in no list, done and closed up")
    assert (machine(place, uids).jobs[-1].name, machine(place, uids).jobs[-1].state) == ("chain oiled", "closed_up")


def test_left_loose_becomes_a_job(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "left_loose", "rear axle nut finger tight")
    sorted_(client, read(client, heap(uids)), "A job: fasten it")
    new = machine(place, uids).jobs[-1]
    assert (new.name, new.kind, new.state) == ("rear axle nut finger tight", "adjust", "not_yet")


def test_a_bag_says_where_it_is_kept(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "bag")
    form = read(client, heap(uids)).form("Where the bag is kept, and what is in it")
    page = follow(client, send(client, form, note="tail screws, third shelf"))
    (bag,) = machine(place, uids).taps
    assert (bag.note, bag.decided, bag.became) == ("tail screws, third shelf", True, "")
    assert "third shelf" in page.text and "Kept as a note." in page.text


def test_sorted_twice_is_said_and_not_done(client: TestClient, uids: dict[str, str], place: Place) -> None:
    tell(client, uids, "snag", "left mirror cracked")
    one, two = read(client, heap(uids)), read(client, heap(uids))
    sorted_(client, one, "It is a finding")
    count = len(machine(place, uids).findings)
    refused = Sheet(send(client, two.form("It is a finding")))
    assert refused.status == 409 and "was sorted already" in refused.text
    # The very same sending is no second one.
    assert follow(client, send(client, one.form("It is a finding"))).status == 200
    assert len(machine(place, uids).findings) == count


def test_a_meaning_that_no_form_offers_is_refused(
    client: TestClient, uids: dict[str, str], place: Place, token: str
) -> None:
    tell(client, uids, "snag")
    (one,) = taps_in(place, uids["Sorrel"])
    for data in ({"as": "spaceship"}, {}, {"as": "part_here", "target": "p_none"}, {"as": "note", "base": "x"}):
        status = client.post(f"{heap(uids)}/{one.id}", data={"csrf": token, "base": "1", **data}).status_code
        assert status in (400, 404, 422), data
    assert client.post(f"{heap(uids)}/tap99", data={"csrf": token, "as": "note"}).status_code == 404
    assert not taps_in(place, uids["Sorrel"])[0].decided


def test_letters_are_letters(client: TestClient, uids: dict[str, str]) -> None:
    tell(client, uids, "snag", '<img src=x onerror=1>"')
    text = client.get(heap(uids)).text
    assert "<img src=x" not in text and "&lt;img src=x" in text
