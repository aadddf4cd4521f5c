"""What a hand does on a telephone in the garage, and what the workbench has of it."""

from __future__ import annotations

import io
from typing import Any

from PIL import Image
from starlette.applications import Starlette

from tests.web.browser import wait_for
from wreckwright.acts.place import Place, open_memory
from wreckwright.record.types import Tap

WORDS = {"done": "Done", "snag": "Snag", "arrived": "Arrived", "left_loose": "Left loose", "bag": "Bag"}


def photograph(shade: int = 90, *, size: tuple[int, int] = (320, 240)) -> bytes:
    """A small JPEG; another shade is another photograph."""
    out = io.BytesIO()
    Image.new("RGB", size, (shade, 120, 140)).save(out, "JPEG")
    return out.getvalue()


def chosen(name: str = "fork.jpg", data: bytes | None = None) -> dict[str, Any]:
    """A file for Playwright's `set_input_files`."""
    return {"name": name, "mimeType": "image/jpeg", "buffer": photograph() if data is None else data}


def bar(page: Any) -> Any:
    return page.get_by_role("form", name="Tell it in passing")


def tell(page: Any, what: str, *, note: str = "", photo: dict[str, Any] | None = None) -> None:
    """One tap, with words and a photograph if given."""
    if note:
        bar(page).get_by_text("Words", exact=True).tap()
        bar(page).get_by_label("In a few words").fill(note)
    if photo is not None:
        bar(page).get_by_label("Photo").set_input_files([photo])
    bar(page).get_by_role("button", name=WORDS[what]).tap()


def lines(page: Any) -> Any:
    """What the page says of what was told just now, newest first."""
    return page.get_by_role("list", name="What was told just now").get_by_role("listitem")


def taps_in(place: Place, uid: str) -> tuple[Tap, ...]:
    with open_memory(place).reading() as reader:
        return reader.machine(uid).taps


def wait_for_taps(place: Place, uid: str, count: int, *, before: int = 0, seconds: float = 20) -> tuple[Tap, ...]:
    """The taps that came after the first `before`, as soon as there are `count` of them."""
    return tuple(
        wait_for(
            lambda: len(found := taps_in(place, uid)[before:]) >= count and found,
            what=f"{count} taps are stored",
            seconds=seconds,
        )
    )


def place_of(app: Starlette) -> Place:
    place: Place = app.state.place
    return place
