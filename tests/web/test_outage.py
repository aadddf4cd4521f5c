"""The server is killed, the radio is gone: what was told in the garage is stored in the end, once. Our own rules.

Here a cut link lasts 3 seconds, longer than the telephone waits until it tries again (2 s), and one that holds all
bytes 8 seconds, longer than it takes until a request is given up for dead (6 s); one that loses them is noticed by that
alone. `benchmarks/bench_phone.py` has the 20 seconds of each. The logic is the same: nothing counts tries or gives up.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest
from playwright.sync_api import expect

from tests.web.browser import PHONE, Live, Watch
from tests.web.proxy import Mode, Proxy
from tests.web.telling import chosen, lines, photograph, taps_in, tell, wait_for_taps
from tests.web.workbench import Workbench
from wreckwright.acts.place import Place


@pytest.fixture
def workbench(place: Place) -> Iterator[Workbench]:
    made = Workbench(place)
    made.start()
    yield made
    made.kill()


def an_evening(page: Any) -> None:
    """Five taps, one of them with words and one with a photograph."""
    tell(page, "done")
    tell(page, "snag", note="rear brake drags")
    tell(page, "left_loose", photo=chosen())
    tell(page, "arrived")
    tell(page, "bag")


def all_there(place: Place, uid: str, before: int) -> None:
    """Everything of the evening is stored, in its order, and nothing twice."""
    found = wait_for_taps(place, uid, 5, before=before, seconds=45)
    assert [tap.what for tap in found] == ["done", "snag", "left_loose", "arrived", "bag"]
    assert [tap.note for tap in found] == ["", "rear brake drags", "", "", ""]
    assert [len(tap.photos) for tap in found] == [0, 0, 1, 0, 0]
    (sha,) = found[2].photos
    assert (place.photos / sha[:2] / f"{sha}.jpg").read_bytes() == photograph()


def settled(page: Any) -> None:
    """The page waits for nothing any more."""
    expect(page.get_by_text(re.compile("kept on this phone|being kept"))).to_have_count(0, timeout=45_000)


def journal_of(place: Place, uid: str) -> list[str]:
    from wreckwright.acts.place import open_memory

    with open_memory(place).reading() as reader:
        return [line.what for line in reader.changes(uid, limit=200)]


def test_a_server_that_is_killed_and_started_again(
    new_context: Callable[..., Any], watch: Watch, workbench: Workbench, place: Place, uids: dict[str, str]
) -> None:
    watch.outage()
    uid = uids["Sorrel"]
    before, journal = len(taps_in(place, uid)), len(journal_of(place, uid))
    page = new_context(**PHONE).new_page()
    page.goto(f"{workbench.url}/machine/{uid}/heap")
    workbench.kill()
    an_evening(page)
    expect(lines(page)).to_have_count(5)
    expect(page.get_by_text("the workbench does not answer, trying again")).to_have_count(1)
    assert len(taps_in(place, uid)) == before
    workbench.start()
    all_there(place, uid, before)
    settled(page)
    assert len(taps_in(place, uid)) == before + 5
    assert len(journal_of(place, uid)) == journal + 5


def test_it_is_killed_while_it_stores(
    new_context: Callable[..., Any], watch: Watch, workbench: Workbench, place: Place, uids: dict[str, str]
) -> None:
    """Whether the last tap had been stored before the kill or not: it is there once."""
    watch.outage()
    uid = uids["Sorrel"]
    before = len(taps_in(place, uid))
    page = new_context(**PHONE).new_page()
    page.goto(f"{workbench.url}/machine/{uid}/heap")
    for turn in range(3):
        an_evening(page)
        wait_for_taps(place, uid, turn * 5 + 1, before=before)
        workbench.kill()
        workbench.start()
        wait_for_taps(place, uid, (turn + 1) * 5, before=before, seconds=45)
    settled(page)
    found = taps_in(place, uid)[before:]
    assert [tap.what for tap in found] == ["done", "snag", "left_loose", "arrived", "bag"] * 3


def test_the_telephone_is_closed_meanwhile(
    new_context: Callable[..., Any], watch: Watch, workbench: Workbench, place: Place, uids: dict[str, str]
) -> None:
    watch.outage()
    uid = uids["Sorrel"]
    before = len(taps_in(place, uid))
    context = new_context(**PHONE)
    page = context.new_page()
    page.goto(f"{workbench.url}/machine/{uid}/heap")
    workbench.kill()
    an_evening(page)
    # What is not yet on the device is not said to be.
    expect(page.get_by_text("kept on this phone")).to_have_count(5)
    page.close()
    workbench.start()
    again = context.new_page()
    again.goto(workbench.url)
    all_there(place, uid, before)
    settled(again)
    assert len(taps_in(place, uid)) == before + 5


@pytest.mark.parametrize(("mode", "seconds"), [("cut", 3.0), ("stall", 8.0), ("lose", 3.0)])
def test_the_radio_is_gone_for_a_while(
    page: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str], mode: Mode, seconds: float
) -> None:
    watch.outage()
    uid = uids["Sorrel"]
    before, journal = len(taps_in(place, uid)), len(journal_of(place, uid))
    with Proxy(server.port) as link:
        page.goto(f"{link.url}/machine/{uid}/heap")
        link.become(mode)
        begun = time.monotonic()
        an_evening(page)
        expect(page.get_by_text("kept on this phone")).to_have_count(5)
        time.sleep(max(0.0, seconds - (time.monotonic() - begun)))
        assert len(taps_in(place, uid)) == before, "nothing came through"
        link.become("pass")
        all_there(place, uid, before)
        settled(page)
        page.close()
    assert len(taps_in(place, uid)) == before + 5
    assert len(journal_of(place, uid)) == journal + 5


def test_an_answer_that_is_lost_doubles_nothing(
    page: Any, server: Live, watch: Watch, place: Place, uids: dict[str, str]
) -> None:
    """The tap has arrived, but not the word that it has: it is sent again, and counts once."""
    watch.outage()
    uid = uids["Sorrel"]
    before = len(taps_in(place, uid))
    page.goto(f"{server.url}/machine/{uid}/heap")
    lost = []

    def lose(route: Any) -> None:
        if not lost:
            lost.append(route.fetch().status)
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/tap", lose)
    tell(page, "snag", note="heard twice")
    settled(page)
    assert lost == [200]
    assert [tap.note for tap in taps_in(place, uid)[before:]] == ["heard twice"]
