"""What a page costs a telephone in bytes and requests. Times are measured by `benchmarks/bench_phone.py`, not here."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from tests.web.browser import PHONE, Live
from tests.web.profile import Cost, cost_of
from tests.web.telling import photograph
from wreckwright.acts import photographs
from wreckwright.acts.place import Place
from wreckwright.acts.sent import Sent
from wreckwright.acts.writes import tap

MOST_BYTES = 60_000
"""Our own bound: half a minute of waiting at the worst of village radio (16 kbit/s), a blink elsewhere."""
MOST_REQUESTS = 8
PATHS = (
    "/",
    "/new",
    "/machine/{uid}",
    "/machine/{uid}/bid",
    "/machine/{uid}/walk",
    "/machine/{uid}/walk/left_flank",
    "/machine/{uid}/findings",
    "/machine/{uid}/heap",
    "/machine/{uid}/facts",
    "/machine/{uid}/changes",
)


@pytest.mark.parametrize("path", PATHS)
def test_a_page_is_small(
    new_context: Callable[..., Any], server: Live, place: Place, uids: dict[str, str], path: str
) -> None:
    sha = photographs.keep(place, photograph(size=(4000, 3000)))
    tap(place, uids["Sorrel"], "snag", "with a photograph", (sha,), Sent(who="the tests"))
    page = new_context(**PHONE).new_page()
    cost = cost_of(page, server.url + path.replace("{uid}", uids["Sorrel"]))
    assert cost.page_bytes <= MOST_BYTES
    assert cost.requests <= MOST_REQUESTS


def test_the_second_page_asks_for_itself_only(
    new_context: Callable[..., Any], server: Live, uids: dict[str, str]
) -> None:
    page = new_context(**PHONE).new_page()
    cost_of(page, server.url)
    second = cost_of(page, f"{server.url}/machine/{uids['Sorrel']}/changes")
    # Files from the cache are finished requests of no bytes.
    assert second.page_bytes < 12_000


def test_a_page_asks_for_smaller_pictures_than_were_taken(
    new_context: Callable[..., Any], server: Live, place: Place, uids: dict[str, str]
) -> None:
    large = photograph(size=(4000, 3000))
    sha = photographs.keep(place, large)
    tap(place, uids["Sorrel"], "snag", "", (sha,), Sent(who="the tests"))
    page = new_context(**PHONE).new_page()
    cost: Cost = cost_of(page, f"{server.url}/machine/{uids['Sorrel']}/heap")
    assert 0 < cost.photograph_bytes < len(large) / 2
