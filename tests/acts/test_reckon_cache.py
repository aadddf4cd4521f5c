"""Kept answers: the last two, whole or not at all, and never out of the folder."""

from __future__ import annotations

import datetime as dt
import hashlib
from functools import lru_cache
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace

from tests.acts.kept import AT, EXAMPLES
from wreckwright.acts.checks import trade_data
from wreckwright.acts.files import open_record
from wreckwright.acts.reckon_cache import AnswerCache
from wreckwright.acts.reckon_child import Asked, reckon
from wreckwright.acts.reckon_shapes import Answers


@lru_cache(maxsize=1)
def answers() -> Answers:
    asked = Asked(
        machine=open_record(EXAMPLES / "sorrel.toml"), trade=trade_data(), day=dt.date(2026, 11, 20), at=AT, change="",
        input_hash="", n_futures=200,
    )
    return reckon(asked, tell=lambda words, share: None)


def named(text: str) -> Answers:
    return replace(answers(), input_hash=hashlib.sha256(text.encode()).hexdigest())


def keep(cache: AnswerCache, uid: str, *texts: str) -> None:
    for text in texts:
        one = named(text)
        cache.keep(uid, msgspec.json.encode(one), input_hash=one.input_hash)


def kept(cache: AnswerCache, uid: str) -> list[str]:
    return [one.input_hash for one in cache.kept(uid)]


def test_answers_read_back_equal(tmp_path: Path) -> None:
    # Real answers have every kind of value in them; equal values both ways (independent: the structs' own equality).
    keep(AnswerCache(tmp_path), "m1", "a")
    assert AnswerCache(tmp_path).kept("m1") == (named("a"),)


def test_the_last_two_are_kept_latest_first(tmp_path: Path) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a", "b", "c")
    keep(cache, "m2", "d")
    wanted = [named("c").input_hash, named("b").input_hash]
    assert kept(cache, "m1") == wanted == kept(AnswerCache(tmp_path), "m1")
    assert sorted(file.name for file in (tmp_path / "m1").iterdir()) == sorted(f"{name}.json" for name in wanted)
    assert kept(cache, "nobody") == []


def test_what_holds_again_counts_as_the_latest(tmp_path: Path) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a", "b")
    assert not cache.use_again("m1", named("z").input_hash)
    assert cache.use_again("m1", named("b").input_hash)
    assert cache.use_again("m1", named("a").input_hash)
    assert kept(cache, "m1") == [named("a").input_hash, named("b").input_hash]
    keep(cache, "m1", "c")
    assert kept(cache, "m1") == [named("c").input_hash, named("a").input_hash]


@pytest.mark.parametrize("content", [b"", b"{", b"null", b'{"shown": 1}', b"\xff\xfe", b"[]"])
def test_a_file_that_cannot_be_read_is_none(tmp_path: Path, content: bytes) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a", "b")
    (tmp_path / "m1" / f"{named('b').input_hash}.json").write_bytes(content)
    assert kept(cache, "m1") == [named("a").input_hash]
    assert not cache.use_again("m1", named("b").input_hash)
    # It is written anew as if it were not there.
    keep(cache, "m1", "b")
    assert kept(cache, "m1") == [named("b").input_hash, named("a").input_hash]


def test_answers_under_a_wrong_name_are_none(tmp_path: Path) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a")
    file = tmp_path / "m1" / f"{named('a').input_hash}.json"
    file.rename(file.with_name(f"{named('b').input_hash}.json"))
    assert kept(cache, "m1") == []


def test_a_changed_file_is_read_again(tmp_path: Path) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a")
    assert cache.kept("m1")[0].change == ""
    newer = replace(named("a"), change="c9")
    AnswerCache(tmp_path).keep("m1", msgspec.json.encode(newer), input_hash=newer.input_hash)
    assert cache.kept("m1")[0].change == "c9"
    (tmp_path / "m1").rename(tmp_path / "gone")
    assert cache.kept("m1") == ()


@pytest.mark.parametrize(
    "uid", ["../../etc", "/etc", "..", ".", "", "a/b", "x" * 65, "na\x00me", "C:\\x", "ä", ".hidden"]
)
def test_no_identity_leads_out_of_the_folder(tmp_path: Path, uid: str) -> None:
    folder = tmp_path / "deep" / "answers"
    cache = AnswerCache(folder)
    keep(cache, uid, "a")
    assert kept(cache, uid) == [named("a").input_hash]
    files = [file for file in tmp_path.rglob("*") if file.is_file()]
    assert len(files) == 1 and files[0].parent.parent == folder


def test_a_write_that_fails_leaves_what_was_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cache = AnswerCache(tmp_path)
    keep(cache, "m1", "a")

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.replace", full)
    with pytest.raises(OSError, match="No space"):
        keep(cache, "m1", "b")
    assert kept(cache, "m1") == [named("a").input_hash]
    assert [file.name for file in (tmp_path / "m1").iterdir()] == [f"{named('a').input_hash}.json"]
