"""A data folder with the three example machines, the workbench over it, a client, a server, a telephone and a desk."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.applications import Starlette
from starlette.testclient import TestClient

from tests.web.browser import CHROMIUM, DESK, FLAGS, PATIENCE_MS, PHONE, Live, Watch, need_browser, running, wait_for
from wreckwright.acts.machines import load_record
from wreckwright.acts.place import Place, open_memory
from wreckwright.acts.reckon import Reckoner
from wreckwright.acts.sent import Sent
from wreckwright.web.app import create_app
from wreckwright.web.security import LOOPBACK

EXAMPLES = Path(__file__).resolve().parents[2] / "examples"
NICKNAMES = ("Sorrel", "Bramble", "Magpie")
QUICK = 200
"""Futures drawn in tests: the figures are rough, the pages are the same."""


class Still(Reckoner):
    """Gives the answers that were reckoned before, and reckons no new ones."""

    def want(self, uid: str, *, first: bool = False) -> None:
        self.asked = [*getattr(self, "asked", []), uid]


def uids_of(place: Place) -> dict[str, str]:
    """Nickname -> uid."""
    with open_memory(place).reading() as reader:
        return {head.nickname: head.uid for head in reader.machines()}


@pytest.fixture(scope="session")
def loaded(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The data folder from which every test gets its copy: three machines, their answers reckoned once."""
    place = Place(tmp_path_factory.mktemp("loaded") / "data")
    for nickname in NICKNAMES:
        load_record(place, EXAMPLES / f"{nickname.lower()}.toml", sent=Sent(who="the tests"))
    with Reckoner(place, n_futures=QUICK) as reckoner:
        for uid in uids_of(place).values():
            reckoner.want(uid)
        for uid in uids_of(place).values():
            wait_for(lambda uid=uid: settled(reckoner, uid), what=f"{uid} is reckoned", seconds=180)
    open_memory(place).close()
    return place.folder


def settled(reckoner: Reckoner, uid: str) -> bool:
    found = reckoner.look(uid)
    if found.state in ("failed", "stopped"):
        pytest.fail(found.why)
    return found.state == "fresh"


@pytest.fixture
def place(loaded: Path, tmp_path: Path) -> Place:
    folder = tmp_path / "data"
    shutil.copytree(loaded, folder)
    return Place(folder)


@pytest.fixture
def uids(place: Place) -> dict[str, str]:
    """Nickname of each of the three machines -> uid."""
    return uids_of(place)


@pytest.fixture
def reckoner(place: Place) -> Iterator[Reckoner]:
    """With all answers for the machines as they were loaded; nothing new is reckoned."""
    with Still(place, n_futures=QUICK) as made:
        yield made


@pytest.fixture
def app(place: Place, reckoner: Reckoner) -> Starlette:
    return create_app(place, reckoner=reckoner, hosts=(*LOOPBACK, "garage.test"))


@pytest.fixture
def client(app: Starlette) -> Iterator[TestClient]:
    """Follows no redirects: whether a form is answered by one is what tests want to see."""
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as made:
        yield made


@pytest.fixture
def token(client: TestClient) -> str:
    """The token of the client's device."""
    return token_of(client.get("/").text)


def token_of(page: str) -> str:
    return page.partition('name="csrf" content="')[2].partition('"')[0]


@pytest.fixture
def server(app: Starlette) -> Iterator[Live]:
    with running(app) as live:
        yield live


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    need_browser()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        yield chromium
        chromium.close()


@pytest.fixture
def watch() -> Iterator[Watch]:
    """Fails the test at its end for whatever went wrong on its pages and was not expected."""
    made = Watch()
    yield made
    assert not made.unexpected(), "\n".join(made.unexpected())


@pytest.fixture
def new_context(browser: Any, watch: Watch, request: pytest.FixtureRequest) -> Iterator[Callable[..., Any]]:
    """Makes watched contexts, each like another telephone."""
    if "server" in request.fixturenames:
        # Made before, so that it ends after the pages that ask it.
        request.getfixturevalue("server")
    made = []

    def make(**options: Any) -> Any:
        context = browser.new_context(**options)
        context.set_default_timeout(PATIENCE_MS)
        context.on("page", watch.see)
        made.append(context)
        return context

    yield make
    for context in made:
        context.close()


@pytest.fixture
def page(new_context: Callable[..., Any]) -> Any:
    """A telephone: 360 x 800, touched."""
    return new_context(**PHONE).new_page()


@pytest.fixture
def desk_page(new_context: Callable[..., Any]) -> Any:
    return new_context(**DESK).new_page()
