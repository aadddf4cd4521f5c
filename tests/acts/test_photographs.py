"""Pictures made of photographs: upright, the right colours, and nothing in them but what is seen."""

from __future__ import annotations

import io
import struct
import zlib
from pathlib import Path
from typing import Any

import pytest
from PIL import Image, ImageCms, ImageDraw, PngImagePlugin

from tests.acts.kept import SENT, THISTLE, thistle
from wreckwright.acts import photographs
from wreckwright.acts.finding_form import FindingForm
from wreckwright.acts.machines import NewMachine, load_record, new_machine
from wreckwright.acts.photographs import CannotBeShown, export, keep, named_pictures, picture_of, shown
from wreckwright.acts.place import Place
from wreckwright.acts.writes import note_finding, tap
from wreckwright.errors import EntryError, NotThere, StoreError, UsageError
from wreckwright.record.file import read_record

SECRET = ("HOMEWARD-51.4778", "SERIAL-7731", "XMP-SECRET", "COMMENT-SECRET", "ICC-SECRET")
RED, GREEN, BLUE, WHITE = (200, 20, 20), (20, 180, 20), (20, 20, 200), (255, 255, 255)


def four_corners(width: int = 320, height: int = 200) -> Image.Image:
    """Red top left, green top right, blue bottom left, white bottom right."""
    image = Image.new("RGB", (width, height), WHITE)
    draw = ImageDraw.Draw(image)
    draw.rectangle((0, 0, width // 2, height // 2), fill=RED)
    draw.rectangle((width // 2, 0, width, height // 2), fill=GREEN)
    draw.rectangle((0, height // 2, width // 2, height), fill=BLUE)
    return image


def saved(image: Image.Image, form: str = "JPEG", **more: Any) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **more)
    return out.getvalue()


def telling_exif(turn: int = 1) -> Image.Exif:
    """Exif as a telephone writes it: where, with what, which way up, and (below) a small picture."""
    exif = Image.Exif()
    exif[0x0112] = turn
    exif[0x010E] = SECRET[0]
    exif[0x013B] = "Wren"
    place = exif.get_ifd(0x8825)
    place[1], place[2], place[3], place[4] = "N", (51.0, 28.0, 40.08), "W", (0.0, 0.0, 5.31)
    more = exif.get_ifd(0x8769)
    more[0xA431] = SECRET[1]
    more[0x9003] = "2026:11:20 19:30:00"
    return exif


def telling_jpeg(turn: int = 1, *, colours: bool = True) -> bytes:
    """A JPEG with everything in it that nobody should get to know; `colours`: a colour profile too."""
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    plain = saved(
        four_corners(),
        quality=95,
        exif=telling_exif(turn),
        comment=SECRET[3],
        icc_profile=profile + SECRET[4].encode() if colours else None,
        xmp=b"http://ns.adobe.com/xap/1.0/\x00<x:xmpmeta>XMP-SECRET</x:xmpmeta>"[29:],
    )
    # A thumbnail as cameras write it: a whole small JPEG inside an application segment, and one behind the end.
    thumbnail = saved(four_corners(32, 20), comment="THUMBNAIL-SECRET")
    segment = b"\xff\xec" + struct.pack(">H", len(thumbnail) + 2) + thumbnail
    return plain[:2] + segment + plain[2:] + thumbnail


def segments(data: bytes) -> list[int]:
    """Markers of a JPEG up to the picture itself; independent: read as ISO/IEC 10918-1 annex B lays them out."""
    assert data[:2] == b"\xff\xd8"
    at, found = 2, []
    while True:
        assert data[at] == 0xFF
        marker = data[at + 1]
        found.append(marker)
        if marker == 0xDA:
            return found
        at += 2 + int.from_bytes(data[at + 2 : at + 4], "big")


def corners(data: bytes) -> tuple[tuple[int, int], list[tuple[int, ...]]]:
    with Image.open(io.BytesIO(data)) as image:
        width, height = image.size
        at = [(width // 4, height // 4), (3 * width // 4, height // 4), (width // 4, 3 * height // 4)]
        return (width, height), [image.getpixel(one) for one in at]  # type: ignore[misc]


def near(one: tuple[int, ...], other: tuple[int, ...], by: int = 12) -> bool:
    return all(abs(a - b) <= by for a, b in zip(one, other, strict=True))


def test_the_input_of_these_tests_does_tell() -> None:
    data = telling_jpeg()
    for secret in (*SECRET, "THUMBNAIL-SECRET"):
        assert secret.encode() in data
    with Image.open(io.BytesIO(data)) as image:
        assert image.getexif().get_ifd(0x8825)[2][0] == 51 and image.info["icc_profile"] and image.info["comment"]


@pytest.mark.parametrize("colours", [True, False])
@pytest.mark.parametrize("turn", [1, 6])
@pytest.mark.parametrize("px", [64, 320, 1280])
def test_nothing_is_in_a_picture_but_its_pixels(tmp_path: Path, px: int, turn: int, colours: bool) -> None:
    place = Place(tmp_path)
    data, media_type = shown(place, keep(place, telling_jpeg(turn, colours=colours)), px)
    assert media_type == "image/jpeg"
    for secret in (*SECRET, "THUMBNAIL-SECRET", "Wren", "2026:11:20", "Exif", "ICC_PROFILE", "xap"):
        assert secret.encode() not in data
    # published (ISO/IEC 10918-1): APP1 to APP15 are 0xE1 to 0xEF, a comment is 0xFE; APP0 is the JFIF header.
    assert not [marker for marker in segments(data) if 0xE1 <= marker <= 0xEF or marker == 0xFE]
    assert data.endswith(b"\xff\xd9") and data.count(b"\xff\xd8\xff") == 1
    with Image.open(io.BytesIO(data)) as image:
        assert not image.getexif() and set(image.info) <= {"jfif", "jfif_version", "jfif_unit", "jfif_density"}


# published (Exif 2.32, tag 274): 1 as it is, 3 turned half, 6 a quarter to the right, 8 a quarter to the left; 2, 4, 5
# and 7 are their mirror images. What is to be seen: the corners as `four_corners` drew them.
@pytest.mark.parametrize(
    ("turn", "before"),
    [
        (1, lambda image: image),
        (2, lambda image: image.transpose(Image.Transpose.FLIP_LEFT_RIGHT)),
        (3, lambda image: image.transpose(Image.Transpose.ROTATE_180)),
        (4, lambda image: image.transpose(Image.Transpose.FLIP_TOP_BOTTOM)),
        (5, lambda image: image.transpose(Image.Transpose.TRANSPOSE)),
        (6, lambda image: image.transpose(Image.Transpose.ROTATE_90)),
        (7, lambda image: image.transpose(Image.Transpose.TRANSVERSE)),
        (8, lambda image: image.transpose(Image.Transpose.ROTATE_270)),
    ],
)
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
def test_pictures_stand_upright(turn: int, before: Any, form: str) -> None:
    data = saved(before(four_corners()), form, exif=telling_exif(turn))
    size, (top_left, top_right, bottom_left) = corners(picture_of(data, 1280))
    assert size == (320, 200)
    assert near(top_left, RED) and near(top_right, GREEN) and near(bottom_left, BLUE)


def test_a_picture_is_made_smaller_and_never_larger() -> None:
    data = saved(four_corners(1000, 500))
    assert corners(picture_of(data, 320))[0] == (320, 160)
    assert corners(picture_of(data, 4096))[0] == (1000, 500)
    assert corners(picture_of(saved(four_corners(500, 1000)), 320))[0] == (160, 320)


def test_what_is_transparent_lies_on_white() -> None:
    image = Image.new("RGBA", (100, 100), (*RED, 255))
    image.paste((0, 0, 0, 0), (0, 0, 50, 100))
    _, (left, right, _) = corners(picture_of(saved(image, "PNG"), 100))
    assert near(left, WHITE) and near(right, RED)
    palette = Image.new("P", (100, 100), 0)
    palette.putpalette([*BLUE, *RED])
    _, (left, *_) = corners(picture_of(saved(palette, "PNG", transparency=0), 100))
    assert near(left, WHITE)
    grey = Image.new("LA", (100, 100), (0, 128))
    # hand-worked: black at half strength on white is 127.
    assert near(corners(picture_of(saved(grey, "PNG"), 100))[1][0], (127, 127, 127))


def test_other_ways_to_write_colours() -> None:
    deep = Image.new("I;16", (64, 64), 32896)
    # hand-worked: 32896 of 65535 is 128 of 255.
    assert near(corners(picture_of(saved(deep, "PNG"), 64))[1][0], (128, 128, 128), by=2)
    print_colours = Image.new("CMYK", (64, 64), (0, 255, 255, 0))
    red = corners(picture_of(saved(print_colours), 64))[1][0]
    assert red[0] > 180 and red[1] < 80 and red[2] < 80
    grey = Image.new("L", (64, 64), 77)
    assert near(corners(picture_of(saved(grey), 64))[1][0], (77, 77, 77), by=2)
    bits = Image.new("1", (64, 64), 1)
    assert near(corners(picture_of(saved(bits, "PNG"), 64))[1][0], WHITE, by=2)


def test_colours_of_another_profile_are_brought_to_those_of_screens() -> None:
    # independent: the profile is that of sRGB with the colorants of red and blue exchanged, so by it red is blue. A
    # picture whose profile was only thrown away would stay red.
    srgb = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    at = {}
    for index in range(int.from_bytes(srgb[128:132], "big")):
        entry = srgb[132 + 12 * index : 144 + 12 * index]
        at[entry[:4]] = 132 + 12 * index
    exchanged = bytearray(srgb)
    exchanged[at[b"rXYZ"] : at[b"rXYZ"] + 4], exchanged[at[b"bXYZ"] : at[b"bXYZ"] + 4] = b"bXYZ", b"rXYZ"
    data = saved(Image.new("RGB", (64, 64), RED), quality=95, icc_profile=bytes(exchanged))
    assert near(corners(picture_of(data, 64))[1][0], (RED[2], RED[1], RED[0]), by=15)


def test_a_damaged_profile_or_exif_does_not_hide_the_picture() -> None:
    bad_profile = saved(four_corners(), icc_profile=b"nonsense" * 20)
    assert near(corners(picture_of(bad_profile, 320))[1][0], RED)
    bad_exif = saved(four_corners(), exif=b"Exif\x00\x00MM\x00*\xff\xff\xff\xff\x12\x34")
    assert near(corners(picture_of(bad_exif, 320))[1][0], RED)


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_file_that_ends_too_early_is_told_in_words(tmp_path: Path, form: str, share: float) -> None:
    import random

    noise = Image.frombytes("RGB", (200, 200), random.Random(1).randbytes(120_000))
    whole = saved(noise, form)
    place = Place(tmp_path)
    sha = keep(place, whole[: int(len(whole) * share)])
    with pytest.raises(CannotBeShown, match="damaged or incomplete|it is damaged") as caught:
        shown(place, sha, 320)
    assert caught.value.do == "take or send it again"
    assert not (place.answers / "pictures").exists()


def test_no_damaged_byte_gets_out_as_a_fault_of_the_program() -> None:
    import random

    rng = random.Random(7)
    for form in ("JPEG", "PNG", "WEBP"):
        whole = bytearray(saved(four_corners(64, 40), form, exif=telling_exif(6)))
        for _ in range(300):
            damaged = bytearray(whole)
            for _ in range(rng.randint(1, 6)):
                damaged[rng.randrange(12, len(damaged))] = rng.randrange(256)
            try:
                assert picture_of(bytes(damaged), 64)[:2] == b"\xff\xd8"
            except CannotBeShown as error:
                assert "kept" in error.what


def bomb(width: int, height: int) -> bytes:
    """A PNG that says it is huge: its header is right, and so is what little there is of its picture."""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    head = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    lines = zlib.compress(bytes(1_000_000))
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", lines) + chunk(b"IEND", b"")


@pytest.mark.parametrize("size", [(60_000, 60_000), (9_000, 9_000), (2_147_483_647, 1), (1, 59_000_000)])
def test_a_picture_of_too_many_pixels_is_refused_before_it_is_unpacked(
    tmp_path: Path, size: tuple[int, int], recwarn: pytest.WarningsRecorder
) -> None:
    place = Place(tmp_path)
    sha = keep(place, bomb(*size))
    with pytest.raises(CannotBeShown, match="pixels") as caught:
        shown(place, sha, 320)
    assert "million pixels" in caught.value.allowed and caught.value.do
    assert not recwarn.list


def test_of_several_pictures_in_one_file_the_first_is_shown() -> None:
    data = saved(four_corners(), "MPO", save_all=True, append_images=[Image.new("RGB", (64, 40), (1, 2, 3))])
    made = picture_of(data, 320)
    assert corners(made)[0] == (320, 200) and near(corners(made)[1][0], RED)
    moving = saved(four_corners(), "WEBP", save_all=True, append_images=[Image.new("RGB", (320, 200), (1, 2, 3))])
    assert near(corners(picture_of(moving, 320))[1][0], RED)


def test_text_hidden_in_a_png_stays_behind() -> None:
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", "COMMENT-SECRET")
    text.add_itxt("XML:com.adobe.xmp", "XMP-SECRET")
    data = saved(four_corners(), "PNG", pnginfo=text, exif=telling_exif())
    assert b"COMMENT-SECRET" in data
    made = picture_of(data, 320)
    assert b"SECRET" not in made and not [marker for marker in segments(made) if 0xE1 <= marker <= 0xEF]


def test_heic_is_kept_and_told_where_it_cannot_be_shown(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import sys

    monkeypatch.setitem(sys.modules, "pillow_heif", None)
    place = Place(tmp_path)
    heic = struct.pack(">I", 24) + b"ftypheic\x00\x00\x00\x00mif1heic" + bytes(100)
    sha = keep(place, heic)
    with pytest.raises(CannotBeShown, match="it is a HEIC file") as caught:
        shown(place, sha, 320)
    assert "pillow-heif" in caught.value.do


def test_a_picture_is_made_once_and_can_be_made_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    place = Place(tmp_path)
    sha = keep(place, telling_jpeg())
    made: list[int] = []
    real = photographs.picture_of

    def counted(data: bytes, longest_px: int) -> bytes:
        made.append(longest_px)
        return real(data, longest_px)

    monkeypatch.setattr(photographs, "picture_of", counted)
    first = shown(place, sha, 320)
    assert shown(place, sha, 320) == first and made == [320]
    assert [one.name for one in (place.answers / "pictures").iterdir()] == [f"{sha}-320.jpg"]
    shown(place, sha, 64)
    (place.answers / "pictures" / f"{sha}-320.jpg").unlink()
    assert shown(place, sha, 320) == first and made == [320, 64, 320]


def test_a_picture_that_cannot_be_kept_is_shown_all_the_same(tmp_path: Path) -> None:
    place = Place(tmp_path)
    sha = keep(place, telling_jpeg())
    place.answers.write_text("in the way")
    assert shown(place, sha, 320)[0][:2] == b"\xff\xd8"


def test_what_is_no_photograph_or_not_here_is_refused(tmp_path: Path) -> None:
    place = Place(tmp_path)
    with pytest.raises(EntryError):
        keep(place, b"<svg xmlns='http://www.w3.org/2000/svg'/>")
    for sha in ("ab" * 32, "../secret", ""):
        with pytest.raises(NotThere):
            shown(place, sha, 320)
    sha = keep(place, telling_jpeg())
    for px in (0, -1, 15, 4097, 10**9):
        with pytest.raises(UsageError, match="16 to 4096"):
            shown(place, sha, px)


def test_the_original_stays_as_it_came(tmp_path: Path) -> None:
    place = Place(tmp_path)
    data = telling_jpeg(6)
    sha = keep(place, data)
    shown(place, sha, 320)
    assert [one.read_bytes() for one in place.photos.rglob("*.jpg")] == [data]


def test_the_pictures_of_a_machine_are_given_away_by_date_and_handle(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    first, second = keep(place, telling_jpeg(6)), keep(place, saved(four_corners(100, 60), "PNG"))
    note_finding(place, uid, FindingForm(what="tank dented", photos=(first, second)), SENT)
    tap(place, uid, "bag", "", (second,), SENT)
    lost = keep(place, telling_jpeg()[:600])
    tap(place, uid, "bag", "", (lost,), SENT)
    result = export(place, "Thistle", tmp_path / "out")
    assert result.written == ("2026-11-25-f2-1.jpg", "2026-11-25-f2-2.jpg", "2026-11-25-tap2.jpg")
    assert [one.split(":")[0] for one in result.left_out] == ["2026-11-25-tap3.jpg"]
    assert sorted(one.name for one in (tmp_path / "out").iterdir()) == sorted(result.written)
    for name in result.written:
        data = (tmp_path / "out" / name).read_bytes()
        assert not [marker for marker in segments(data) if 0xE1 <= marker <= 0xEF or marker == 0xFE]
        assert b"SECRET" not in data


def test_pictures_of_two_machines_in_one_folder_are_all_there(tmp_path: Path) -> None:
    """Both have a tap 2 of that day."""
    written: list[str] = []
    for name, turn in (("one", 1), ("other", 3)):
        (tmp_path / name).mkdir()
        place, uid = thistle(tmp_path / name)
        tap(place, uid, "bag", "", (keep(place, telling_jpeg(turn)),), SENT)
        for _ in range(2):
            written += export(place, "Thistle", tmp_path / "out").written
    assert len(set(written)) == 2 == len(list((tmp_path / "out").iterdir()))
    assert written[:2] == ["2026-11-25-tap2.jpg"] * 2


def test_names_of_pictures(tmp_path: Path) -> None:
    shas = [f"{number:064x}" for number in range(5)]
    machine = read_record(
        (
            THISTLE
            + f'photos = ["{shas[0]}"]\n'
            + f'[[taps]]\nid = "a/b"\nwhat = "bag"\nphotos = ["{shas[1]}"]\n'
            + f'[[taps]]\nid = "a:b"\nwhat = "bag"\nphotos = ["{shas[2]}"]\n'
            + f'[[log]]\ndate = 2026-11-01\nphoto_sha256 = "{shas[3]}"\n'
        ).encode()
    )
    assert named_pictures(machine) == (
        ("2026-11-01-log1.jpg", shas[3]),
        ("undated-tap1.jpg", shas[0]),
        ("undated-a_b.jpg", shas[1]),
        (f"undated-a_b-{shas[2][:8]}.jpg", shas[2]),
    )


def test_pictures_of_a_new_machine_and_of_a_file(tmp_path: Path) -> None:
    place = Place(tmp_path / "data")
    sha = keep(place, telling_jpeg())
    new_machine(place, NewMachine(machine_class="naked", year="2016", photographs=(sha,), nickname="Burr"), SENT)
    assert len(export(place, "Burr", tmp_path / "one").written) == 1
    file = tmp_path / "a.toml"
    file.write_text(THISTLE + f'photos = ["{sha}"]\n')
    assert export(place, str(file), tmp_path / "two").written == ("undated-tap1.jpg",)
    load_record(place, file, sent=SENT)
    (tmp_path / "blocked").write_text("")
    with pytest.raises(StoreError, match="blocked"):
        export(place, "Thistle", tmp_path / "blocked")
