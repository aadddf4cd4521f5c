"""Photographs: the same bytes once, whole or not at all, and nothing that a row names is ever swept away."""

from __future__ import annotations

import hashlib
import io
import os
import time
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from wreckwright.errors import EntryError, NotThere, StoreError
from wreckwright.store import photos
from wreckwright.store.photos import LIMIT_BYTES, keep_photo, media_type, photo_path, sweep

HOUR_S = 3600.0


def picture(kind: str, *, shade: int = 90) -> bytes:
    """A small picture, written by another program than the one under test."""
    out = io.BytesIO()
    Image.new("RGB", (32, 24), (shade, 40, 20)).save(out, kind)
    return out.getvalue()


def boxed(*brands: bytes) -> bytes:
    """File type box of ISO/IEC 14496-12, 4.3: size, "ftyp", major brand, minor version, compatible brands."""
    body = b"ftyp" + brands[0] + bytes(4) + b"".join(brands[1:])
    return (len(body) + 4).to_bytes(4, "big") + body + b"\x00\x00\x00\x08free"


def files(folder: Path) -> list[str]:
    return sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file())


def made_old(path: Path, age_s: float) -> None:
    then = time.time() - age_s
    os.utime(path, (then, then))


# Published: the signatures in ISO/IEC 10918-1, ISO/IEC 15948, RFC 9649 and ISO/IEC 23008-12 (brands).
@pytest.mark.parametrize(
    ("data", "expected", "ending"),
    [
        (picture("JPEG"), "image/jpeg", ".jpg"),
        (picture("PNG"), "image/png", ".png"),
        (picture("WEBP"), "image/webp", ".webp"),
        (boxed(b"heic", b"mif1", b"heic"), "image/heic", ".heic"),
        (boxed(b"mif1", b"miaf", b"heix"), "image/heic", ".heic"),
    ],
)
def test_what_telephones_make_is_kept_as_it_came(tmp_path: Path, data: bytes, expected: str, ending: str) -> None:
    assert media_type(data) == expected
    sha = keep_photo(tmp_path / "photos", data)
    assert sha == hashlib.sha256(data).hexdigest()
    path = photo_path(tmp_path / "photos", sha)
    assert path == tmp_path / "photos" / sha[:2] / f"{sha}{ending}"
    assert path.read_bytes() == data


@pytest.mark.parametrize(
    ("data", "words"),
    [
        (picture("GIF"), "a GIF picture"),
        (picture("BMP"), "a BMP picture"),
        (picture("TIFF"), "a TIFF or raw picture"),
        (picture("PDF"), "a PDF document"),
        (boxed(b"avif", b"mif1", b"miaf"), "an AVIF picture"),
        (boxed(b"qt  "), "a film"),
        (b"RIFF\x10\x00\x00\x00AVI LIST", "a film or a sound"),
        (b'<?xml version="1.0"?><svg xmlns="http://www.w3.org/2000/svg"/>', "a drawing (SVG)"),
        (b"\xef\xbb\xbf <!doctype html><script>alert(1)</script>", "a page of text (HTML or XML)"),
        (b"hello there", "no kind of picture that is known here (it begins with 68 65 6c 6c 6f 20 74 68)"),
        (b"\xff\xd8", "no kind of picture that is known here (it begins with ff d8)"),
        # The brand stands behind the end that the box itself gives: it is no brand of this file.
        ((16).to_bytes(4, "big") + b"ftypqt  " + bytes(4) + b"heicheic", "a film"),
    ],
)
def test_anything_else_is_refused_in_three_parts(tmp_path: Path, data: bytes, words: str) -> None:
    with pytest.raises(EntryError) as caught:
        keep_photo(tmp_path / "photos", data)
    assert caught.value.what == f"The file is {words}"
    assert caught.value.allowed == "A photograph as JPEG, PNG, WebP or HEIC, of at most 40 MB"
    assert caught.value.do
    assert caught.value.field == "photos"
    assert files(tmp_path) == []


def test_empty_and_too_large_are_refused_with_their_size(tmp_path: Path) -> None:
    with pytest.raises(EntryError, match=r"empty \(0 bytes\)"):
        keep_photo(tmp_path, b"")
    largest = picture("JPEG").ljust(LIMIT_BYTES, b"\0")
    with pytest.raises(EntryError, match=r"has 40\.1 MB"):
        keep_photo(tmp_path, largest + bytes(100_000))
    assert files(tmp_path) == []
    assert photo_path(tmp_path, keep_photo(tmp_path, largest)).stat().st_size == 40_000_000


@given(data=st.binary(max_size=60))
def test_no_beginning_of_a_file_breaks_the_telling(tmp_path_factory: pytest.TempPathFactory, data: bytes) -> None:
    if media_type(data) is None:
        with pytest.raises(EntryError):
            keep_photo(tmp_path_factory.getbasetemp() / "never", data)
    assert not (tmp_path_factory.getbasetemp() / "never").exists()


def test_the_same_photograph_twice_is_one_file(tmp_path: Path) -> None:
    one, other = picture("JPEG"), picture("JPEG", shade=200)
    first, again, second = keep_photo(tmp_path, one), keep_photo(tmp_path, one), keep_photo(tmp_path, other)
    assert first == again != second
    assert len(files(tmp_path)) == 2


def test_kept_again_a_damaged_file_is_put_right(tmp_path: Path) -> None:
    data = picture("PNG")
    path = photo_path(tmp_path, keep_photo(tmp_path, data))
    path.write_bytes(data[:10] + bytes(len(data) - 10))
    keep_photo(tmp_path, data)
    assert path.read_bytes() == data


def test_only_the_owner_may_read_it(tmp_path: Path) -> None:
    path = photo_path(tmp_path / "photos", keep_photo(tmp_path / "photos", picture("JPEG")))
    assert path.stat().st_mode & 0o777 == 0o600
    assert path.parent.stat().st_mode & 0o777 == 0o700


def test_it_is_on_the_disk_before_it_has_its_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    # Order of a write that survives a power cut, as in the manual page of rename(2) and fsync(2):
    # contents to the disk, then the name, then the folder that holds the name.
    done: list[str] = []
    fsync, replace = os.fsync, os.replace

    def told_fsync(handle: int) -> None:
        done.append("folder" if os.path.isdir(f"/proc/self/fd/{handle}") else "contents")
        fsync(handle)

    def told_replace(old: Path, new: Path) -> None:
        done.append("name")
        replace(old, new)

    monkeypatch.setattr(os, "fsync", told_fsync)
    monkeypatch.setattr(os, "replace", told_replace)
    keep_photo(tmp_path, picture("JPEG"))
    # The second folder is the one that holds the new folder of two digits.
    assert done == ["contents", "name", "folder", "folder"]


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_a_full_disk_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str) -> None:
    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(photos.os, step, full)
    with pytest.raises(StoreError) as caught:
        keep_photo(tmp_path, picture("JPEG"))
    assert "the disk is full" in caught.value.what
    assert "nothing was kept" in caught.value.do
    assert files(tmp_path) == []


def test_a_file_where_the_folder_should_be_is_told(tmp_path: Path) -> None:
    (tmp_path / "photos").write_text("not a folder")
    with pytest.raises(StoreError, match="could not be kept: not a directory|could not be kept: file exists"):
        keep_photo(tmp_path / "photos", picture("JPEG"))


@pytest.mark.parametrize("name", ["", "../../secret", "A" * 64, "a" * 63, "a" * 64, "a" * 64 + "\n", "../" + "a" * 61])
def test_what_is_not_there_or_no_name_is_told(tmp_path: Path, name: str) -> None:
    keep_photo(tmp_path, picture("JPEG"))
    with pytest.raises(NotThere) as caught:
        photo_path(tmp_path, name)
    assert caught.value.what and caught.value.allowed and caught.value.do


def test_no_name_leads_out_of_the_folder(tmp_path: Path) -> None:
    folder = tmp_path / "data" / "photos"
    folder.mkdir(parents=True)
    (tmp_path / "secret.jpg").write_bytes(picture("JPEG"))
    assert (folder / ".." / "../secret.jpg").is_file()
    with pytest.raises(NotThere, match="names no photograph"):
        photo_path(folder, "../secret")


def test_sweep_takes_only_what_is_old_and_not_named(tmp_path: Path) -> None:
    shas = [keep_photo(tmp_path, picture("JPEG", shade=shade)) for shade in (10, 60, 110)]
    named, old, young = shas
    for sha in (named, old):
        made_old(photo_path(tmp_path, sha), 2 * HOUR_S)
    assert sweep(tmp_path, {named}, HOUR_S) == (old,)
    assert photo_path(tmp_path, named).exists() and photo_path(tmp_path, young).exists()
    with pytest.raises(NotThere):
        photo_path(tmp_path, old)
    assert len(files(tmp_path)) == 2


def test_sweep_leaves_what_is_not_ours_and_takes_what_a_power_cut_left(tmp_path: Path) -> None:
    sha = keep_photo(tmp_path, picture("JPEG"))
    folder = photo_path(tmp_path, sha).parent
    other_folder = tmp_path / ("ff" if sha[:2] != "ff" else "00")
    other_folder.mkdir()
    strange = [tmp_path / "note.txt", folder / "note.txt", folder / f"{sha}.txt", folder / ".hidden"]
    strange += [other_folder / f"{sha}.jpg"]
    old_part = folder / f".{sha}.jpg.{'0' * 16}.part"
    new_part = folder / f".{sha}.{'1' * 16}.part"
    for path in (*strange, old_part, new_part):
        path.write_text("x")
        if path != new_part:
            made_old(path, 2 * HOUR_S)
    assert sweep(tmp_path, set(), HOUR_S) == ()
    assert all(path.exists() for path in (*strange, new_part))
    assert not old_part.exists()


def test_sweep_of_nothing_is_nothing(tmp_path: Path) -> None:
    assert sweep(tmp_path / "never", set(), 0.0) == ()
    assert not (tmp_path / "never").exists()


def test_kept_again_it_is_young_again(tmp_path: Path) -> None:
    sha = keep_photo(tmp_path, picture("JPEG"))
    made_old(photo_path(tmp_path, sha), 2 * HOUR_S)
    keep_photo(tmp_path, picture("JPEG"))
    assert sweep(tmp_path, set(), HOUR_S) == ()
    assert photo_path(tmp_path, sha).exists()


@pytest.mark.parametrize("moment", ["before", "after"])
def test_kept_again_while_it_is_being_swept_it_stays(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, moment: str
) -> None:
    """Somebody sends the same photograph just before, or just after, the sweep gives it another name."""
    data = picture("JPEG")
    sha = keep_photo(tmp_path, data)
    made_old(photo_path(tmp_path, sha), 2 * HOUR_S)
    rename = os.rename

    def meanwhile(old: Path, new: Path) -> None:
        if moment == "before":
            keep_photo(tmp_path, data)
        rename(old, new)
        if moment == "after":
            keep_photo(tmp_path, data)

    monkeypatch.setattr(photos.os, "rename", meanwhile)
    sweep(tmp_path, set(), HOUR_S)
    assert photo_path(tmp_path, sha).read_bytes() == data
    assert len(files(tmp_path)) == 1
