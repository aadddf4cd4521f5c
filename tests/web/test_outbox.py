"""What was told is kept on the device until the workbench has it. Our own rules."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import expect
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route

from tests.web.browser import PHONE, SMALL_CONTROLS, SMALL_LETTERS, Live, Watch, violations, wait_for
from tests.web.telling import bar, chosen, lines, photograph, taps_in, tell, wait_for_taps
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import undo_change
from wreckwright.errors import ConflictError, FieldConflict, StoreError

NO_MEMORY = "Object.defineProperty(window, 'indexedDB', { value: undefined });"
NO_ROOM = """IDBObjectStore.prototype.put = () => { throw new DOMException('full', 'QuotaExceededError'); };"""
NO_ROOM_LATE = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (value) {
  const asked = put.call(this, value);
  asked.addEventListener('success', () => this.transaction.abort());
  return asked;
};"""


@pytest.fixture
def heap(page: Any, server: Live, uids: dict[str, str]) -> Any:
    """The telephone on the heap of Sorrel."""
    page.goto(f"{server.url}/machine/{uids['Sorrel']}/heap")
    return page


@pytest.fixture
def before(place: Place, uids: dict[str, str]) -> int:
    """How many taps Sorrel has from the beginning."""
    return len(taps_in(place, uids["Sorrel"]))


def entries(page: Any) -> int:
    """How many entries the device still keeps."""
    return int(
        page.evaluate(
            """() => new Promise((resolve) => {
              const ask = indexedDB.open("wreckwright", 1);
              ask.onsuccess = () => {
                const count = ask.result.transaction("entries").objectStore("entries").count();
                count.onsuccess = () => { ask.result.close(); resolve(count.result); };
              };
            })"""
        )
    )


def test_a_tap_is_shown_stored_and_can_be_taken_back(
    heap: Any, place: Place, uids: dict[str, str], before: int
) -> None:
    tell(heap, "snag", note="chain is <b>stiff</b>")
    expect(lines(heap)).to_have_count(1)
    expect(lines(heap).first).to_contain_text("Snag: chain is <b>stiff</b>")
    expect(lines(heap).first.get_by_role("button", name="Take it back")).to_be_visible()
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert (tap.what, tap.note) == ("snag", "chain is <b>stiff</b>")
    assert entries(heap) == 0
    lines(heap).first.get_by_role("button", name="Take it back").tap()
    wait_for(lambda: len(taps_in(place, uids["Sorrel"])) == before, what="the tap is taken back")


def test_the_next_tap_can_come_at_once_and_the_form_is_empty_again(
    heap: Any, place: Place, uids: dict[str, str], before: int
) -> None:
    tell(heap, "left_loose", note="fork pinch bolts", photo=chosen())
    expect(bar(heap).get_by_label("In a few words")).to_be_hidden()
    assert bar(heap).get_by_label("Photo").evaluate("input => input.files.length") == 0
    tell(heap, "done")
    tell(heap, "arrived")
    first, second, third = wait_for_taps(place, uids["Sorrel"], 3, before=before)
    assert [first.what, second.what, third.what] == ["left_loose", "done", "arrived"], "in the order of the taps"
    assert len(first.photos) == 1 and first.note == "fork pinch bolts"
    assert not second.photos and not second.note and not third.photos


def test_a_page_stays_where_it_is_while_something_is_told(page: Any, server: Live, uids: dict[str, str]) -> None:
    page.goto(f"{server.url}/machine/{uids['Sorrel']}/findings")
    page.evaluate("scrollTo(0, 60)")
    tell(page, "snag", note="mirror rattles")
    expect(lines(page).first.get_by_role("button", name="Take it back")).to_be_visible()
    assert page.evaluate("scrollY") == 60


def test_the_page_shows_what_was_stored(heap: Any) -> None:
    link = heap.get_by_role("link", name=re.compile(r"\d+ to sort"))
    count = int(link.inner_text().split()[0]) if link.count() else 0
    tell(heap, "snag", note="mirror rattles")
    expect(heap.get_by_role("main").get_by_text("mirror rattles").first).to_be_visible()
    expect(heap.get_by_role("link", name=f"{count + 1} to sort")).to_be_visible()


def test_on_plain_http_there_is_no_secure_context_and_it_works(
    page: Any, server: Live, place: Place, uids: dict[str, str], before: int
) -> None:
    page.goto(f"{server.plain_url}/machine/{uids['Sorrel']}/heap")
    assert page.evaluate("[isSecureContext, 'randomUUID' in crypto, 'locks' in navigator]") == [False, False, False]
    tell(page, "bag", photo=chosen())
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert tap.what == "bag" and len(tap.photos) == 1


def test_on_a_page_without_a_machine_the_chosen_one_gets_it_and_stays_chosen(
    page: Any, server: Live, place: Place, uids: dict[str, str]
) -> None:
    page.goto(server.url)
    had = len(taps_in(place, uids["Bramble"]))
    bar(page).get_by_label("Which machine").select_option(label="Bramble")
    tell(page, "done")
    tell(page, "snag")
    first, second = wait_for_taps(place, uids["Bramble"], 2, before=had)
    assert (first.what, second.what) == ("done", "snag")


def test_offline_it_is_kept_shown_and_sent_when_the_network_is_back(
    heap: Any, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.outage()
    heap.context.set_offline(True)
    tell(heap, "snag", note="one")
    tell(heap, "done")
    expect(lines(heap)).to_have_count(2)
    expect(lines(heap).first).to_contain_text("kept on this phone")
    expect(lines(heap).last).to_contain_text("kept on this phone; the workbench does not answer, trying again")
    assert len(taps_in(place, uids["Sorrel"])) == before
    heap.context.set_offline(False)
    first, second = wait_for_taps(place, uids["Sorrel"], 2, before=before)
    assert (first.note, second.what) == ("one", "done")
    expect(lines(heap).first.get_by_role("button", name="Take it back")).to_be_visible()


def test_when_it_was_told_is_kept_with_it(
    heap: Any, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.outage()
    heap.context.set_offline(True)
    tell(heap, "snag")
    told_ms = heap.evaluate("Date.now()")
    heap.wait_for_timeout(2500)
    heap.context.set_offline(False)
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert tap.at is not None
    # To the second, as the record keeps it.
    assert abs(tap.at.timestamp() * 1000 - told_ms) < 1500


def test_it_survives_a_closed_page(
    heap: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.outage()
    heap.context.set_offline(True)
    tell(heap, "arrived", note="left mirror", photo=chosen())
    expect(lines(heap).first).to_contain_text("kept on this phone")
    wait_for(lambda: entries(heap) == 1, what="it is written down on the device")
    context = heap.context
    heap.close()
    context.set_offline(False)
    again = context.new_page()
    again.goto(server.url)
    expect(lines(again).first).to_contain_text("left mirror")
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert (tap.what, tap.note, len(tap.photos)) == ("arrived", "left mirror", 1)


def test_two_pages_of_one_device_double_nothing(
    heap: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    other = heap.context.new_page()
    other.goto(server.url)
    heap.bring_to_front()
    watch.outage()
    heap.context.set_offline(True)
    for note in ("one", "two", "three"):
        tell(heap, "snag", note=note)
    wait_for(lambda: entries(heap) == 3, what="all are written down on the device")
    other.evaluate("dispatchEvent(new Event('online'))")
    heap.context.set_offline(False)
    for both in (heap, other):
        both.evaluate("dispatchEvent(new Event('online'))")
    wait_for(lambda: entries(heap) == 0, what="all are sent")
    heap.wait_for_load_state("networkidle")
    other.wait_for_load_state("networkidle")
    assert [tap.note for tap in taps_in(place, uids["Sorrel"])[before:]] == ["one", "two", "three"]


def test_a_stale_token_is_renewed_once(
    heap: Any, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.allow("status of 403")
    heap.context.clear_cookies()
    tell(heap, "done")
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert tap.what == "done"
    tell(heap, "snag")
    wait_for_taps(place, uids["Sorrel"], 2, before=before)
    assert sum("403" in fault for fault in watch.faults) == 1


def test_what_is_refused_says_why_and_is_kept_until_it_is_let_go(
    heap: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.allow("status of 422")
    tell(heap, "snag", note="with a document", photo=chosen("paper.jpg", b"%PDF-1.7 no photograph"))
    refused = lines(heap).first
    expect(refused).to_contain_text("JPEG")
    expect(refused).to_contain_text("with a document")
    assert heap.evaluate(SMALL_CONTROLS) == [] and heap.evaluate(SMALL_LETTERS) == []
    assert violations(heap) == []
    tell(heap, "done")
    wait_for_taps(place, uids["Sorrel"], 1, before=before)
    heap.goto(server.url)
    expect(lines(heap)).to_have_count(1)
    lines(heap).first.get_by_role("button", name="Send again").tap()
    expect(lines(heap).first).to_contain_text("JPEG")
    lines(heap).first.get_by_role("button", name="Let go").tap()
    expect(lines(heap)).to_have_count(0)
    wait_for(lambda: entries(heap) == 0, what="nothing is kept")


def test_what_was_told_of_a_machine_that_was_gone_is_sent_when_it_is_back(
    heap: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.allow("status of 404")
    with open_memory(place).reading() as reader:
        taken_in = reader.changes(uids["Sorrel"])[-1].id
    gone = undo_change(place, taken_in, Sent(who="the tests"))
    tell(heap, "snag", note="of a machine that is gone")
    expect(lines(heap).first).to_contain_text("has been taken away")
    assert gone.change_id is not None
    undo_change(place, gone.change_id, Sent(who="the tests"))
    heap.goto(server.url)
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert tap.note == "of a machine that is gone"


# ---- answers made up for the purpose -------------------------------------------------------------------------------


@pytest.fixture
def answers(app: Starlette) -> Iterator[Callable[[Callable[[Request], Response]], None]]:
    """Puts another answer in front of that to a tap."""

    def put(handler: Callable[[Request], Response]) -> None:
        app.router.routes.insert(0, Route("/machine/{uid}/tap", handler, methods=["POST"]))

    yield put


def test_a_busy_memory_is_tried_again(
    heap: Any, app: Starlette, watch: Watch, answers: Any, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.allow("status of 503")

    def busy(request: Request) -> Response:
        app.router.routes.pop(0)
        raise StoreError("the memory is busy", "one writer", "Wait")

    answers(busy)
    tell(heap, "done")
    expect(lines(heap).first).to_contain_text("the memory is busy, trying again")
    wait_for_taps(place, uids["Sorrel"], 1, before=before)


def test_a_fault_of_the_program_does_not_hold_up_the_rest(
    heap: Any, app: Starlette, watch: Watch, answers: Any, place: Place, uids: dict[str, str], before: int
) -> None:
    watch.allow("status of 500")

    def faulty(request: Request) -> Response:
        app.router.routes.pop(0)
        raise ZeroDivisionError

    answers(faulty)
    tell(heap, "snag", note="first")
    expect(lines(heap).first).to_contain_text("fault of the program")
    tell(heap, "done")
    wait_for_taps(place, uids["Sorrel"], 1, before=before)
    heap.get_by_role("button", name="Send again").tap()
    assert wait_for_taps(place, uids["Sorrel"], 2, before=before)[1].note == "first"


def test_a_conflict_leads_to_the_page_with_both_sides(
    heap: Any, app: Starlette, watch: Watch, answers: Any, uids: dict[str, str]
) -> None:
    watch.allow("status of 409")
    conflict = FieldConflict(kind="machine", handle="machine", field="year", base=2018, now=2019, wanted=2020)

    def clash(request: Request) -> Response:
        raise ConflictError("the year was changed", "as it is now", "Choose", conflicts=[conflict])

    answers(clash)
    tell(heap, "snag", note="mine")
    line = lines(heap).first
    expect(line).to_contain_text("The year was changed.")
    line.get_by_role("button", name="Look at both").tap()
    expect(heap.get_by_role("heading", name="Changed meanwhile")).to_be_visible()
    expect(heap.get_by_role("main")).to_contain_text("2019")
    # It is shown in full on this page, so the line for it is settled.
    wait_for(lambda: entries(heap) == 0, what="nothing is kept")
    expect(lines(heap)).to_have_count(0)


# ---- without memory on the device ----------------------------------------------------------------------------------


@pytest.mark.parametrize("script", [NO_ROOM, NO_ROOM_LATE], ids=["full", "full later"])
def test_what_there_is_no_room_for_is_held_by_the_page_until_it_is_sent(
    new_context: Callable[..., Any],
    server: Live,
    watch: Watch,
    place: Place,
    uids: dict[str, str],
    before: int,
    script: str,
) -> None:
    watch.outage()
    page = new_context(**PHONE).new_page()
    page.add_init_script(script)
    page.goto(f"{server.url}/machine/{uids['Sorrel']}/heap")
    page.context.set_offline(True)
    tell(page, "left_loose", note="rear axle", photo=chosen())
    expect(lines(page).first).to_contain_text("no room on this phone, leave this page open")
    asked = []
    page.once("dialog", lambda dialog: (asked.append(dialog.type), dialog.dismiss()))
    page.evaluate("() => { setTimeout(() => location.assign('/'), 0); }")
    wait_for(lambda: asked == ["beforeunload"] or page.wait_for_timeout(100), what="it asks before it is left")
    page.context.set_offline(False)
    expect(lines(page).first).to_contain_text("Left loose: rear axle (1 photograph)")
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert (tap.what, tap.note, len(tap.photos)) == ("left_loose", "rear axle", 1)
    assert (place.photos / tap.photos[0][:2] / f"{tap.photos[0]}.jpg").read_bytes() == photograph()
    # Nothing is held any more, so it lets go.
    page.goto(server.url)


def test_whoever_goes_on_at_once_loses_nothing(
    heap: Any, server: Live, place: Place, uids: dict[str, str], before: int
) -> None:
    """A large photograph takes a moment to be written down; the link that is tapped meanwhile waits for it."""
    large = photograph() + bytes(15_000_000)
    bar(heap).get_by_label("Photo").set_input_files([chosen(data=large)])
    heap.evaluate(
        """() => {
          document.querySelector('.tapbar button[value="snag"]').click();
          document.querySelector('a.mark').click();
        }"""
    )
    heap.wait_for_url(f"{server.url}/")
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert len(tap.photos) == 1


def test_a_photograph_that_is_gone_is_left_out_and_said(
    heap: Any, place: Place, uids: dict[str, str], before: int
) -> None:
    heap.evaluate(
        "() => { Blob.prototype.arrayBuffer = () => Promise.reject(new DOMException('gone', 'NotReadableError')); }"
    )
    tell(heap, "snag", note="words stay", photo=chosen())
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert (tap.note, tap.photos) == ("words stay", ())
    expect(lines(heap).first).to_contain_text("1 photograph left out that could not be read")


def test_without_memory_on_the_device_the_form_is_sent_as_it_is(
    new_context: Callable[..., Any], server: Live, place: Place, uids: dict[str, str], before: int
) -> None:
    page = new_context(**PHONE).new_page()
    page.add_init_script(NO_MEMORY)
    page.goto(f"{server.url}/machine/{uids['Sorrel']}/heap")
    tell(page, "left_loose", note="rear axle", photo=chosen())
    # A whole page comes back and says it.
    expect(page.get_by_role("status")).to_contain_text("Left loose: rear axle (1 photograph)")
    (tap,) = wait_for_taps(place, uids["Sorrel"], 1, before=before)
    assert (tap.what, tap.note, len(tap.photos)) == ("left_loose", "rear axle", 1)
    assert (place.photos / tap.photos[0][:2] / f"{tap.photos[0]}.jpg").read_bytes() == photograph()


def test_without_any_script_a_tap_works_too(
    new_context: Callable[..., Any], server: Live, place: Place, uids: dict[str, str], before: int
) -> None:
    page = new_context(**PHONE, java_script_enabled=False).new_page()
    page.goto(f"{server.url}/machine/{uids['Sorrel']}/heap")
    tell(page, "left_loose", note="rear axle", photo=chosen())
    expect(page.get_by_role("status")).to_contain_text("Left loose: rear axle (1 photograph)")
    page.get_by_role("button", name="Take it back").tap()
    expect(page.get_by_role("status")).to_contain_text("Taken back")
    assert len(taps_in(place, uids["Sorrel"])) == before


def test_a_trembling_thumb_tells_one_thing(heap: Any, place: Place, uids: dict[str, str], before: int) -> None:
    snag = bar(heap).get_by_role("button", name="Snag")
    snag.dblclick()
    wait_for_taps(place, uids["Sorrel"], before + 1)
    # Somebody who means it twice takes longer; another button at once is another thing.
    heap.wait_for_timeout(600)
    snag.click()
    bar(heap).get_by_role("button", name="Bag").click()
    wait_for_taps(place, uids["Sorrel"], before + 3)
    assert [one.what for one in taps_in(place, uids["Sorrel"])[before:]] == ["snag", "snag", "bag"]
