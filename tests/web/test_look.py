"""Every page, as it is seen: readable, hit by a thumb, in a frame of 360 pixels, by day and in the dark.

Contrast and the like are those of WCAG 2.2, level AA, as axe measures them (published); 48 pixels for what is to be
hit, 16 for letters and no sideways scroll are our own.
"""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.routing import Route

from tests.web.browser import (
    DESK,
    PATIENCE_MS,
    PHONE,
    SIDEWAYS,
    SMALL_CONTROLS,
    SMALL_LETTERS,
    Live,
    Watch,
    running,
    violations,
)
from tests.web.conftest import QUICK, Still, uids_of
from tests.web.telling import WORDS, photograph
from wreckwright.acts import photographs
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import FindingForm, note_finding, tap
from wreckwright.web.app import create_app, page_routes

SHOTS = "WRECKWRIGHT_SCREENSHOTS"
"""Environment variable: a folder into which a picture of every page is put."""
NO_PAGES = frozenset({"/picture/{sha}", "/machine/{uid}/reckon", "/machine/{uid}/line", "/machine/{uid}/foresight.csv"})
"""A photograph, parts of pages, and a file to keep."""
STATIONS = ("nose_on", "tail_on")
KEYS = ("front_wheel", "gate:straight", "look:straight_edge_fork")
"""Work that any machine may have."""
MACHINES = {"Sorrel": "bought", "Magpie": "not bought"}


def page_paths() -> list[str]:
    """The addresses of all pages that can be read, with their gaps."""
    return [
        route.path
        for route in page_routes()
        if isinstance(route, Route) and "GET" in (route.methods or ()) and route.path not in NO_PAGES
    ]


def cases() -> list[tuple[str, str]]:
    """(address, nickname): each page of a machine for one that is bought and for one that is not."""
    found = []
    for path in page_paths():
        for nickname in MACHINES if "{uid}" in path else [""]:
            for station in STATIONS if "{station}" in path else [""]:
                for key in KEYS if "{key}" in path else [""]:
                    found.append((path.replace("{station}", station).replace("{key}", key), nickname))
    return found


def name_of(path: str, nickname: str) -> str:
    return re.sub(r"\W+", "-", f"{nickname}{path}".replace("{uid}", "")).strip("-").lower() or "machines"


@dataclass(frozen=True)
class Gallery:
    """One workbench for all pages, as it looks after an evening, and a telephone and a desk to look at it."""

    live: Live
    uids: dict[str, str]
    handles: dict[str, str]
    phone: Any
    desk: Any
    watch: Watch

    def address(self, path: str, nickname: str) -> str:
        if nickname:
            path = path.replace("{uid}", self.uids[nickname]).replace("{handle}", self.handles[nickname])
        assert "{" not in path, f"the tests do not know how to fill {path}"
        return self.live.url + path

    def go(self, page: Any, address: str) -> None:
        answer = page.goto(address)
        assert answer.status == 200, page.get_by_role("main").inner_text()


def live_in(place: Place, uids: dict[str, str]) -> dict[str, str]:
    """A finding with a photograph, taps to be sorted out; nickname -> handle of the finding."""
    handles = {}
    for nickname in MACHINES:
        sent = Sent(who="telephone 7f3a")
        sha = photographs.keep(place, photograph())
        form = FindingForm(what="left mirror gone", photos=(sha,), evidence="seen in the yard")
        handles[nickname] = note_finding(place, uids[nickname], form, sent=sent).handle
        tap(place, uids[nickname], "snag", "rear brake drags", (sha,), sent)
        tap(place, uids[nickname], "left_loose", "", (), sent)
    return handles


@pytest.fixture(scope="module")
def hall(loaded: Path, browser: Any, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Gallery]:
    place = Place(tmp_path_factory.mktemp("look") / "data")
    shutil.copytree(loaded, place.folder)
    uids = uids_of(place)
    handles = live_in(place, uids)
    watch = Watch()
    with (
        Still(place, n_futures=QUICK) as reckoner,
        running(create_app(place, reckoner=reckoner)) as live,
        browser.new_context(**PHONE) as phone,
        browser.new_context(**DESK) as desk,
    ):
        for context in (phone, desk):
            context.set_default_timeout(PATIENCE_MS)
            context.on("page", watch.see)
        yield Gallery(live, uids, handles, phone.new_page(), desk.new_page(), watch)


@pytest.fixture
def gallery(hall: Gallery) -> Iterator[Gallery]:
    hall.watch.faults.clear()
    yield hall
    assert not hall.watch.unexpected(), "\n".join(hall.watch.unexpected())


def shoot(page: Any, name: str) -> None:
    folder = os.environ.get(SHOTS)
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=Path(folder) / f"{name}.png")
        page.screenshot(path=Path(folder) / f"{name}-whole.png", full_page=True)


def looked_at(page: Any) -> None:
    """What holds on every page, at any width."""
    assert page.title().strip(), "it has no title"
    assert page.get_by_role("heading", level=1).count() == 1, "one first heading a page"
    sides = page.evaluate(SIDEWAYS)
    assert sides["page"] <= sides["screen"], f"it can be pushed sideways: {sides}"
    assert page.evaluate(SMALL_CONTROLS) == []
    assert page.evaluate(SMALL_LETTERS) == []


@pytest.mark.parametrize(("path", "nickname"), cases(), ids=lambda value: str(value) or "all")
def test_a_page_is_fit_for_a_thumb_and_for_ears(gallery: Gallery, path: str, nickname: str) -> None:
    page, name = gallery.phone, name_of(path, nickname)
    page.emulate_media(color_scheme="light")
    gallery.go(page, gallery.address(path, nickname))
    looked_at(page)
    found = violations(page)
    assert not found, "\n".join(found)
    shoot(page, f"phone-light-{name}")
    # Only colours are different in the dark.
    page.emulate_media(color_scheme="dark")
    found = violations(page, only=("color-contrast", "link-in-text-block"))
    assert not found, "in the dark:\n" + "\n".join(found)
    shoot(page, f"phone-dark-{name}")


@pytest.mark.parametrize(("path", "nickname"), cases(), ids=lambda value: str(value) or "all")
def test_a_page_is_fit_for_a_desk(gallery: Gallery, path: str, nickname: str) -> None:
    page, name = gallery.desk, name_of(path, nickname)
    gallery.go(page, gallery.address(path, nickname))
    looked_at(page)
    if os.environ.get(SHOTS):
        for scheme in ("light", "dark"):
            page.emulate_media(color_scheme=scheme)
            shoot(page, f"desk-{scheme}-{name}")


def test_every_page_is_looked_at(app: Starlette) -> None:
    served = {route.path for route in app.routes if isinstance(route, Route) and "GET" in (route.methods or ())}
    assert served - {"/static/{name}"} == set(page_paths()) | NO_PAGES
    assert len(page_paths()) >= 10


def test_an_error_page_is_fit_too(page: Any, server: Live, watch: Watch) -> None:
    watch.allow("status of 404")
    page.goto(server.url + "/nowhere")
    looked_at(page)
    assert violations(page) == []


def test_the_ways_open_with_one_tap_and_are_all_there(gallery: Gallery) -> None:
    page = gallery.phone
    page.emulate_media(color_scheme="light")
    gallery.go(page, gallery.address("/machine/{uid}", "Sorrel"))
    ways = page.get_by_role("navigation", name="Pages of Sorrel")
    assert not ways.is_visible()
    page.get_by_text("Go to", exact=True).tap()
    for words in ("walk-round", "findings", "what is ahead", "what is known", "tonight", "running order",
                  "the heap", "evenings", "what was changed"):
        assert ways.get_by_role("link", name=words).is_visible()
    looked_at(page)
    assert violations(page) == []
    shoot(page, "phone-light-ways-open")


def test_on_a_desk_the_ways_are_open(gallery: Gallery) -> None:
    gallery.go(gallery.desk, gallery.address("/machine/{uid}", "Sorrel"))
    assert gallery.desk.get_by_role("navigation").get_by_role("link", name="walk-round").is_visible()


def test_the_bar_covers_nothing_for_good(gallery: Gallery) -> None:
    """At its end a page can be pulled up so far that its last line stands clear of the five taps."""
    page = gallery.phone
    gallery.go(page, gallery.address("/machine/{uid}/changes", "Sorrel"))
    page.evaluate("scrollTo(0, document.body.scrollHeight)")
    clear = page.evaluate(
        """() => document.querySelector('main').lastElementChild.getBoundingClientRect().bottom
               <= document.querySelector('.bar').getBoundingClientRect().top"""
    )
    assert clear
    assert page.evaluate("document.querySelector('.bar').getBoundingClientRect().height / innerHeight") < 0.2


def test_the_five_taps_stand_in_one_row(gallery: Gallery) -> None:
    page = gallery.phone
    gallery.go(page, gallery.live.url)
    taps = [page.get_by_role("button", name=words, exact=True).bounding_box() for words in WORDS.values()]
    assert len({round(box["y"]) for box in taps}) == 1
    assert all(box["height"] >= 48 for box in taps)


@pytest.mark.parametrize("path", ["/", "/machine/{uid}", "/machine/{uid}/walk", "/machine/{uid}/facts"])
def test_letters_twice_as_large_still_fit(gallery: Gallery, path: str) -> None:
    """WCAG 2.2, 1.4.4 (published): text at 200 % without loss of content."""
    page = gallery.phone
    gallery.go(page, gallery.address(path, "Sorrel"))
    page.evaluate("document.documentElement.style.fontSize = '200%'")
    sides = page.evaluate(SIDEWAYS)
    assert sides["page"] <= sides["screen"], sides


def test_the_next_control_can_be_seen_by_its_frame(desk_page: Any, server: Live) -> None:
    desk_page.goto(server.url)
    for _ in range(4):
        desk_page.keyboard.press("Tab")
        width = desk_page.evaluate("parseFloat(getComputedStyle(document.activeElement).outlineWidth)")
        assert width >= 2


def test_nothing_moves_for_those_who_asked_for_that(new_context: Callable[..., Any], server: Live) -> None:
    page = new_context(**DESK, reduced_motion="reduce").new_page()
    page.goto(server.url)
    moving = """() => [...document.querySelectorAll('*')].filter((one) => {
        const style = getComputedStyle(one);
        return style.animationName !== 'none' || parseFloat(style.transitionDuration) > 0; }).length"""
    assert page.evaluate(moving) == 0
