"""The use cases: which day holds, what is loaded, how errors come out."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from tests.acts.at_the_bench import second
from tests.acts.kept import AT, EXAMPLES, SENT, thistle
from wreckwright.acts import ask
from wreckwright.acts.hands import take_turn
from wreckwright.acts.keep import check_picture_name, keep_picture
from wreckwright.acts.packs import read_pack
from wreckwright.acts.place import memory
from wreckwright.answers.plan_types import RunningOrder
from wreckwright.errors import RecordError, TradeDataError, UsageError, WreckwrightError
from wreckwright.store.apply import apply
from wreckwright.store.types import Draft, Put, RowKey

FEW_WORDS = 'nickname = "Thistle"\nmachine_class = "naked"\nyear = 2016\nfindings = ["tank dented"]\n'


@pytest.fixture
def record(tmp_path: Path) -> Path:
    file = tmp_path / "thistle.toml"
    file.write_text(FEW_WORDS, encoding="utf-8")
    return file


def test_the_day_given_goes_before_the_record_and_the_record_before_the_clock(record: Path) -> None:
    given, written, clock = dt.date(2026, 5, 1), dt.date(2026, 4, 1), dt.date(2026, 3, 1)

    def day(as_of: dt.date | None) -> dt.date:
        return ask.open_machine(ask.Question(machine=record, as_of=as_of), today=lambda: clock).known.as_of

    assert day(None) == clock
    record.write_text(FEW_WORDS + "as_of = 2026-04-01\n", encoding="utf-8")
    assert day(None) == written
    assert day(given) == given


def test_a_mirrored_machine_gets_mirrored_trade_data(record: Path) -> None:
    plain = ask.open_machine(ask.Question(machine=record))
    record.write_text(FEW_WORDS + "mirrored = true\n", encoding="utf-8")
    mirrored = ask.open_machine(ask.Question(machine=record))
    assert (plain.trade.mirrored, mirrored.trade.mirrored) == (False, True)


def test_check_returns_problems_and_the_others_raise_them(record: Path) -> None:
    record.write_text(FEW_WORDS.replace("2016", "16"), encoding="utf-8")
    assert not ask.check(ask.Question(machine=record)).good
    with pytest.raises(RecordError, match="year"):
        ask.show(ask.Question(machine=record))


def test_names_follow_the_words_of_the_owner(record: Path) -> None:
    uk = ask.fit(ask.Question(machine=record)).names
    record.write_text(FEW_WORDS + '[owner]\nwords = "us"\n', encoding="utf-8")
    us = ask.fit(ask.Question(machine=record)).names
    assert set(uk) == set(us)
    assert [name for name in uk if uk[name] != us[name]]


def test_the_fit_list_and_the_foresight_suspect_by_the_same_chances(record: Path) -> None:
    question = ask.Question(machine=record, n_futures=200)
    suspects = {one.component: one.chance for one in ask.foresight(question).answer.suspects}
    listed = {one.component: one.chance for entry in ask.fit(question).answer.items for one in entry.suspected}
    both = suspects.keys() & listed.keys()
    assert both
    assert {name: suspects[name] for name in both} == {name: listed[name] for name in both}


def test_long_steps_are_told(record: Path) -> None:
    told: list[str] = []
    ask.foresight(ask.Question(machine=record, n_futures=200), tell=told.append)
    assert told == ["Thistle: planning, and drawing 200 futures"]


def test_a_pack_that_is_no_toml_or_no_file_is_told(tmp_path: Path) -> None:
    with pytest.raises(TradeDataError, match="cannot be read"):
        read_pack(tmp_path / "none.toml")
    (tmp_path / "bad.toml").write_text("a = = 1")
    with pytest.raises(TradeDataError, match="not well-formed"):
        read_pack(tmp_path / "bad.toml")
    (tmp_path / "big.toml").write_bytes(b"#" * 5_000_001)
    with pytest.raises(TradeDataError, match="larger than 5,000,000 bytes"):
        read_pack(tmp_path / "big.toml")


def test_a_picture_never_replaces_a_record(record: Path) -> None:
    with pytest.raises(UsageError, match="ending in .svg"):
        keep_picture(record, "<svg/>")
    assert record.read_text(encoding="utf-8") == FEW_WORDS
    check_picture_name("a.SVG")


def test_a_picture_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    with pytest.raises(WreckwrightError, match="cannot be written"):
        keep_picture(tmp_path / "none" / "a.svg", "<svg/>")


def test_a_day_before_what_the_record_tells_is_refused(tmp_path: Path) -> None:
    record = tmp_path / "a.toml"
    record.write_text(
        'nickname = "A"\nmachine_class = "tourer"\nyear = 2015\nas_of = 2026-11-20\n'
        "purchase = { bought = true, price_minor = 80000, date = 2026-09-26 }\n"
    )
    with pytest.raises(RecordError) as error:
        ask.show(ask.Question(machine=str(record), as_of=dt.date(2026, 9, 25)))
    assert "2026-09-26, after as_of (2026-09-25)" in error.value.problems[0].found
    assert ask.show(ask.Question(machine=str(record), as_of=dt.date(2026, 9, 26))).as_of == "2026-09-26"


def test_a_yes_to_the_road_test_stands_once_and_stays_open_until_the_list_is_proved(tmp_path: Path) -> None:
    record = tmp_path / "a.toml"
    record.write_text(
        'nickname = "A"\nmachine_class = "tourer"\nyear = 2015\nas_of = 2026-11-20\n'
        '[[gates]]\ntemplate = "fit_to_ride"\nanswer = "yes"\n'
    )
    seen = ask.show(ask.Question(machine=str(record)))
    assert [gate.look_first != () for gate in seen.gates if "ride-stop" in gate.question] == [True]


def test_what_was_answered_no_is_not_sent_to_be_asked_again(tmp_path: Path) -> None:
    record = tmp_path / "a.toml"
    head = 'nickname = "A"\nmachine_class = "tourer"\nyear = 2015\nas_of = 2026-11-20\n'
    for rest, asked in (("", True), ('[[gates]]\ntemplate = "papers"\nanswer = "no"\n', False)):
        record.write_text(head + rest)
        papers = next(gate for gate in ask.show(ask.Question(machine=str(record))).gates if gate.id == "papers")
        assert bool(papers.quick_look) is asked


def test_a_stored_machine_is_asked_by_its_nickname_and_its_faults_by_their_handles(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path)
    assert ask.show(ask.Question(machine="thistle", place=place)).nickname == "Thistle"
    assert ask.check(ask.Question(machine="thistle", place=place)).good
    # As if the trade data had lost a name since it was written.
    key = RowKey(machine=uid, kind="findings", handle="f8")
    draft = Draft(what="past the checks", writes=(Put(key=key, fields={"component": "flumox"}, base_rev=0),))
    apply(memory(place), who="test", at=AT, draft=lambda _: draft, check=lambda _: None)
    checked = ask.check(ask.Question(machine="thistle", place=place))
    assert not checked.good and [one.where for one in checked.problems] == ["findings row 2 (f8), component"]
    with pytest.raises(RecordError, match="^Thistle: findings row 2"):
        ask.show(ask.Question(machine="thistle", place=place))


def test_machines_that_nobody_has_planned_yet_never_book_the_same_minute(tmp_path: Path) -> None:
    """No page has been opened, so no plan is kept: whoever goes first is planned for whoever asks."""
    place, thistle_uid = thistle(tmp_path)
    second(place, tmp_path, (EXAMPLES / "sorrel.toml").read_text(encoding="utf-8"))
    take_turn(place, thistle_uid, 2, SENT)
    told: list[str] = []

    def order(name: str) -> RunningOrder:
        question = ask.Question(machine=name, place=place, as_of=dt.date(2026, 11, 20), n_futures=200)
        return ask.running_order(question, tell=told.append).answer

    first, later = order("Sorrel"), order("Thistle")
    ends = {date: to for date, _, to in first.booked}
    shared = [(date, start) for date, start, _ in later.booked if date in ends]
    assert shared, "they share some evening, or this shows nothing"
    assert all(start >= ends[date] for date, start in shared)
    assert [words for words in told if "goes first" in words] == ["Sorrel: goes first, and is planned before"]
