"""Photographs: upright, small, kept by the browser, and without a word of where they were taken. Rules of our own."""

from __future__ import annotations

import io

import pytest
from PIL import Image
from starlette.testclient import TestClient

from tests.web.reading import flat
from wreckwright.acts import photographs
from wreckwright.acts.place import Place

WHERE = b"52 deg 31 min, at home"


@pytest.fixture
def sha(place: Place) -> str:
    """A photograph that lies on its side and says where it was taken."""
    exif = Image.Exif()
    # published (Exif 2.32): tag 0x0112 orientation, 6 is a quarter turn; 0x010e image description.
    exif[0x0112] = 6
    exif[0x010E] = WHERE.decode()
    out = io.BytesIO()
    Image.new("RGB", (1600, 800), (40, 90, 120)).save(out, "JPEG", exif=exif)
    assert WHERE in out.getvalue()
    return photographs.keep(place, out.getvalue())


def test_it_is_upright_and_small_and_says_nothing_of_where(client: TestClient, sha: str) -> None:
    answer = client.get(f"/picture/{sha}")
    assert answer.status_code == 200 and answer.headers["content-type"] == "image/jpeg"
    picture = Image.open(io.BytesIO(answer.content))
    # hand-worked: 1600 x 800 turned upright is 800 x 1600; its longer side becomes 320.
    assert picture.size == (160, 320)
    assert WHERE not in answer.content and not picture.getexif()


def test_the_larger_one_is_asked_for_by_name(client: TestClient, sha: str) -> None:
    assert Image.open(io.BytesIO(client.get(f"/picture/{sha}?px=1280").content)).size == (640, 1280)


def test_a_browser_may_keep_it_and_asks_in_vain_for_another(client: TestClient, sha: str) -> None:
    answer = client.get(f"/picture/{sha}")
    assert answer.headers["cache-control"] == "private, max-age=31536000, immutable"
    again = client.get(f"/picture/{sha}", headers={"If-None-Match": answer.headers["etag"]})
    assert again.status_code == 304 and again.content == b""
    assert client.get(f"/picture/{sha}?px=1280").headers["etag"] != answer.headers["etag"]


@pytest.mark.parametrize("px", ["", "0", "321", "99999", "320.0", "-320"])
def test_other_sizes_are_not_made(client: TestClient, sha: str, px: str) -> None:
    answer = client.get(f"/picture/{sha}?px={px}")
    assert answer.status_code == 400 and "320 or 1280" in flat(answer.text)


@pytest.mark.parametrize("name", ["ab" * 32, "nothing", "..%2f..%2fsecret", "AB" * 32, "ab" * 31])
def test_what_is_not_there_is_told_in_words(client: TestClient, name: str) -> None:
    answer = client.get(f"/picture/{name}")
    assert answer.status_code == 404
    assert "This did not work" in flat(answer.text) and "Traceback" not in answer.text
    assert answer.headers["cache-control"] == "no-store"


def test_a_photograph_that_cannot_be_shown_is_told_in_words(client: TestClient, place: Place) -> None:
    out = io.BytesIO()
    Image.effect_noise((400, 300), 90).save(out, "JPEG")
    broken = photographs.keep(place, out.getvalue()[: len(out.getvalue()) // 2])
    answer = client.get(f"/picture/{broken}")
    assert answer.status_code == 422 and "cannot be shown" in flat(answer.text)


def test_nobody_else_reads_them(client: TestClient, sha: str) -> None:
    answer = client.get(f"/picture/{sha}", headers={"Host": "evil.test"})
    assert answer.status_code == 403
