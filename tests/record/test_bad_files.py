"""Every kind of wrong file gets: where, what was found, what is allowed, what to do."""

from __future__ import annotations

import json

import pytest

from wreckwright.errors import RecordError
from wreckwright.record.file import LARGEST_BYTES, read_record

HEAD = 'nickname = "Sorrel"\nmachine_class = "tourer"\nyear = 2019\n'


def problems_of(text: str | bytes, name: str = "wreck.toml") -> RecordError:
    with pytest.raises(RecordError) as caught:
        read_record(text if isinstance(text, bytes) else text.encode(), name=name)
    return caught.value


# hand-worked: for each file, what a reader of the message must be told (parts of the sentences).
BAD_FILES: dict[str, tuple[str | bytes, str, str, str, str]] = {
    "wrong type": (
        HEAD + 'odometer = "many"\n',
        "line 4, odometer",
        "'many'",
        "a finite number from 0 to 5,000,000",
        "without quotes",
    ),
    "text without quotes": (HEAD + "vin = 12\n", "line 4, vin", "12", "a text of at most 40 characters", "quotes"),
    "number for a truth value": (
        HEAD + "mirrored = 1\n",
        "line 4, mirrored",
        "1",
        "true or false",
        "write true or false",
    ),
    "word not in the list": (
        HEAD + 'seen_in = "photos"\n',
        "line 4, seen_in",
        "'photos'",
        "photographs",
        "write photographs",
    ),
    "unknown key": (
        HEAD + 'nicknam = "S"\n',
        "line 4, nicknam",
        "unknown field 'nicknam'",
        "nickname, machine_class",
        "write nickname",
    ),
    "unknown key in a row": (
        HEAD + '[[findings]]\nwhat = "rack bent"\nsever = 2\n',
        "line 6, findings row 1, sever",
        "'sever'",
        "severity",
        "write severity",
    ),
    "key in the wrong table": (
        HEAD + "[purchase]\nsound_value_minor = 1\n",
        "line 5, purchase, sound_value_minor",
        "sound_value_minor",
        "price_minor",
        "move it under market",
    ),
    "money without minor units": (
        HEAD + "[purchase]\nprice = 2450\n",
        "line 5, purchase, price",
        "'price'",
        "price_minor",
        "write price_minor; money is written in minor units",
    ),
    "money with decimals": (
        HEAD + "[purchase]\nprice_minor = 2450.5\n",
        "line 5, purchase, price_minor",
        "2450.5",
        "a whole number of minor units (cents, pence) from 0",
        "write 245050 if 2450.50 is meant",
    ),
    "negative money": (
        HEAD + "[purchase]\nprice_minor = -1\n",
        "line 5, purchase, price_minor",
        "-1",
        "from 0",
        "in this range",
    ),
    "negative working time": (
        HEAD + '[[jobs]]\nname = "fit rack"\ndone_minutes = -30\n',
        "line 6, jobs row 1, done_minutes",
        "-30",
        "from 0 to 100,000",
        "in this range",
    ),
    "band upside down": (
        HEAD + '[[jobs]]\nname = "fit rack"\nminutes = {low = 60, likely = 30, high = 90}\n',
        "line 6, jobs row 1, minutes",
        "60, 30, 90",
        "low <= likely <= high",
        "in order",
    ),
    "circle of jobs": (
        HEAD + '[[jobs]]\nid = "a"\nname = "a"\nafter = ["b"]\n[[jobs]]\nid = "b"\nname = "b"\nafter = ["c"]\n'
        '[[jobs]]\nid = "c"\nname = "c"\nafter = ["a"]\n',
        "line 7, jobs row 1 (a), after",
        "a <- b <- c <- a",
        "an order in which the jobs can be done",
        "take one of these out",
    ),
    "two rows for one piece of work": (
        HEAD + '[[jobs]]\nid = "a"\nname = "a"\nstands_for = "front_wheel"\n'
        '[[jobs]]\nid = "b"\nname = "b"\nstands_for = "front_wheel"\n',
        "line 11, jobs row 2 (b), stands_for",
        "'front_wheel', for which jobs row 1 stands already",
        "one row for each piece of work",
        "into one row",
    ),
    "row that stands for an own job": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "job:j1"\n',
        "line 6, jobs row 1, stands_for",
        "'job:j1', an own job",
        "made from the trade data",
        "into the row of that job",
    ),
    "row that stands for the part of nobody": (
        HEAD + '[[parts]]\nid = "pump"\n[[jobs]]\nname = "a"\nstands_for = "part:pumpe:try_on"\n',
        "line 8, jobs row 1, stands_for",
        "'pumpe', which is no handle of a part line",
        "pump",
        "write pump",
    ),
    "row that stands for an unknown batch": (
        HEAD + '[[jobs]]\nname = "a"\nstands_for = "batch:paint"\n',
        "line 6, jobs row 1, stands_for",
        "'paint', which is no handle of a batch",
        "as long as there is no batch",
        "take the entry out",
    ),
    "row that stands for an unknown errand": (
        HEAD + '[[errands]]\nid = "shop"\nkind = "trip"\nwords = "w"\n[[jobs]]\nname = "a"\n'
        'stands_for = "errand:shp:rolls"\n',
        "line 10, jobs row 1, stands_for",
        "'shp', which is no handle of an errand",
        "shop",
        "write shop",
    ),
    "errand about an unknown part": (
        HEAD + '[[errands]]\nkind = "call"\nwords = "w"\npart = "p7"\n',
        "line 7, errands row 1, part",
        "'p7', which is no handle of a part line",
        "no part line",
        "take the entry out",
    ),
    "errand with an unknown batch": (
        HEAD + '[[errands]]\nkind = "trip"\nwords = "w"\nbatch = "b7"\n',
        "line 7, errands row 1, batch",
        "'b7', which is no handle of a batch",
        "no batch",
        "take the entry out",
    ),
    "call that wants something": (
        HEAD + '[[errands]]\nkind = "call"\nwords = "w"\nwants = ["rolls"]\n',
        "line 7, errands row 1, wants",
        "rolls, of a call",
        "only a trip",
        'kind = "trip"',
    ),
    "batch away before it went": (
        HEAD + '[[batches]]\nname = "paint"\naway_on = 2026-11-01\n',
        "line 6, batches row 1, away_on",
        "2026-11-01, of a batch that is still gathering",
        "away or back",
        'state = "away"',
    ),
    "batch away in the future": (
        HEAD + 'as_of = 2026-11-20\n[[batches]]\nname = "paint"\nstate = "away"\naway_on = 2026-12-01\n',
        "line 8, batches row 1, away_on",
        "2026-12-01, after as_of (2026-11-20)",
        "a day up to as_of",
        "gathering",
    ),
    "component in two batches": (
        HEAD + '[[batches]]\nid = "a"\nname = "a"\ncomponents = ["seat"]\n'
        '[[batches]]\nid = "b"\nname = "b"\ncomponents = ["mirror_l", "seat"]\n',
        "line 11, batches row 2 (b), components entry 2",
        "'seat', which goes with the batch 'a' already",
        "one batch at a time",
        "out of one of the two",
    ),
    "day changed twice": (
        HEAD + "[calendar]\nchanged = [{ date = 2026-11-21, minutes = 60 }, { date = 2026-11-21, minutes = 90 }]\n",
        "line 5, calendar, changed",
        "2026-11-21, of which row 1 speaks already",
        "each day once",
        "keep the row that holds",
    ),
    "day with too many minutes": (
        HEAD + "[calendar]\nchanged = [{ date = 2026-11-21, minutes = 1600 }]\n",
        "line 5, calendar, changed",
        "1600",
        "1,440",
        "",
    ),
    "helper on no weekday": (
        HEAD + '[calendar]\nhelper_weekdays = ["sabbath"]\n',
        "line 5, calendar, helper_weekdays",
        "'sabbath'",
        "saturday",
        "",
    ),
    "job after an unknown job": (
        HEAD + '[[jobs]]\nid = "strip"\nname = "strip"\n[[jobs]]\nname = "fit"\nafter = ["stripp"]\n',
        "line 9, jobs row 2, after entry 1",
        "'stripp'",
        "strip",
        "write strip",
    ),
    "job needs an unknown part": (
        HEAD + '[[jobs]]\nname = "fit"\nparts = ["pump"]\n',
        "line 6, jobs row 1, parts entry 1",
        "'pump'",
        "nothing, as long as there is no part line",
        "take the entry out",
    ),
    "NaN": (HEAD + "odometer = nan\n", "line 4, odometer", "nan", "a finite number", "leave the field out"),
    "infinity": (
        HEAD + "[owner]\npace = inf\n",
        "line 5, owner, pace",
        "inf",
        "a finite number above 0.1 to 10",
        "leave the field out",
    ),
    "a number too big for any field": (
        HEAD + f"odometer = {'9' * 400}\n",
        "line 4, odometer",
        "about 400 digits",
        "to 5,000,000",
        "range",
    ),
    "chance above one": (
        HEAD + '[[gates]]\ntemplate = "papers"\nchance_yes = 60\n',
        "line 6, gates row 1, chance_yes",
        "60",
        "from 0 to 1",
        "write 0.6 if 60 % is meant",
    ),
    "date out of range": (
        HEAD + "as_of = 2500-01-01\n",
        "line 4, as_of",
        "2500-01-01",
        "from 1900-01-01 to 2199-12-31",
        "check the year",
    ),
    "no such day": (HEAD + "as_of = 2026-02-30\n", "line 4", "Invalid date", "well-formed TOML", "look at that line"),
    "no such day, in quotes": (
        HEAD + 'as_of = "2026-02-30"\n',
        "line 4, as_of",
        "'2026-02-30'",
        "a date from",
        "2026-11-20",
    ),
    "a moment for a day": (
        HEAD + "as_of = 2026-11-20T10:00:00\n",
        "line 4, as_of",
        "2026-11-20 10:00:00",
        "a date from",
        "2026-11-20",
    ),
    "ordered in the future": (
        HEAD + 'as_of = 2026-11-20\n[[parts]]\nname = "pump"\nordered_on = 2026-12-01\n',
        "line 7, parts row 1, ordered_on",
        "after as_of",
        "up to as_of",
        "move as_of on",
    ),
    "promised before ordered": (
        HEAD + '[[parts]]\nname = "pump"\nordered_on = 2026-10-10\npromised_on = 2026-10-01\n',
        "line 7, parts row 1, promised_on",
        "before it was ordered",
        "on or after ordered_on",
        "check both",
    ),
    "the same handle twice": (
        HEAD + '[[parts]]\nid = "x"\nname = "a"\n[[jobs]]\nid = "x"\nname = "b"\n',
        "line 8, jobs row 1 (x), id",
        "'x', which parts row 1 already has",
        "each handle once",
        "another id",
    ),
    "a handle that a row without one gets": (
        HEAD + '[[parts]]\nname = "a"\n[[parts]]\nid = "p1"\nname = "b"\n',
        "line 7, parts row 2 (p1), id",
        "'p1', which parts row 1 already has",
        "by their place",
        "another id",
    ),
    "missing nickname": (
        'machine_class = "tourer"\nyear = 2019\n',
        "nickname",
        "nothing",
        "a text of 1 to 60 characters",
        'add a line: nickname = "Sorrel"',
    ),
    "blank nickname": (
        HEAD.replace("Sorrel", "  "),
        "line 1, nickname",
        "'  '",
        "a text of 1 to 60",
        "write something",
    ),
    "year with two digits": (HEAD.replace("2019", "19"), "line 3, year", "19", "from 1900 to 2100", "in this range"),
    "year after the day of the answers": (
        HEAD.replace("2019", "2031") + "as_of = 2026-11-20\n",
        "line 3, year",
        "2031, after as_of",
        "up to 2027",
        "check year and as_of",
    ),
    "empty file": (b"", "the whole file", "nothing", "at least nickname", "begin with nickname"),
    "only blanks": (b" \n\t\n", "the whole file", "nothing", "at least nickname", "begin with nickname"),
    "newer format": (
        "format = 2\n" + HEAD,
        "line 1, format",
        "format 2, newer than this program",
        "from 1 to 1",
        "newer version",
    ),
    "format in words": ('format = "one"\n' + HEAD, "line 1, format", "'one'", "from 1 to 1", "write format = 1"),
    "currency": (HEAD + 'currency = "euro"\n', "line 4, currency", "'euro'", "three capital letters", 'like "EUR"'),
    "currency in small letters": (
        HEAD + 'currency = "eur"\n',
        "line 4, currency",
        "'eur'",
        "three capital letters",
        'like "EUR"',
    ),
    "purse in another currency": (
        HEAD + '[[purse]]\ndate = 2026-10-01\nwhat = "post"\nout_minor = 5\ncurrency = "GBP"\n',
        "line 8, purse row 1, currency",
        "'GBP'",
        "EUR",
        "left your account",
    ),
    "text too long": (HEAD + f'vin = "{"1" * 3000}"\n', "line 4, vin", "(3000 characters)", "at most 40", "shorten"),
    "week of five days": (
        HEAD + "[calendar]\nweekday_minutes = [0, 120, 0, 120, 0]\n",
        "line 5, calendar, weekday_minutes",
        "a list with 5 entries",
        "exactly 7 entries",
        "Monday first",
    ),
    "day of thirty hours": (
        HEAD + "[calendar]\nweekday_minutes = [0, 0, 0, 0, 0, 1800, 0]\n",
        "line 5, calendar, weekday_minutes entry 6",
        "1800",
        "0 to 1440",
        "minutes planned",
    ),
    "week without work": (
        HEAD + "[calendar]\nweekday_minutes = [0, 0, 0, 0, 0, 0, 0]\n",
        "line 5, calendar, weekday_minutes",
        "0 on every day",
        "at least one day",
        "leave the field out",
    ),
    "a finding that says nothing": (
        HEAD + "[[findings]]\nseverity = 2\n",
        "line 4, findings row 1",
        "says nothing",
        "in plain words",
        "front rim dinged",
    ),
    "a side without a fault": (
        HEAD + '[[findings]]\nside = "left"\n',
        "line 4, findings row 1",
        "without a fault",
        "looked_fine = true",
        "what is wrong",
    ),
    "fine and missing": (
        HEAD + '[[findings]]\nwhat = "rack"\nlooked_fine = true\nmissing = true\n',
        "line 7, findings row 1, missing",
        "both missing and looked_fine",
        "one of the two",
        "take one out",
    ),
    "severity four": (
        HEAD + '[[findings]]\nwhat = "rack"\nseverity = 4\n',
        "line 6, findings row 1, severity",
        "4",
        "from 1 to 3",
        "range",
    ),
    "half a likelihood": (
        HEAD + '[[readings]]\nwhat = "x"\nvalue = 1\nunit = "mm"\nif_bad = 0.2\n',
        "line 4, readings row 1",
        "only one of if_sound and if_bad",
        "both or neither",
        "add the other",
    ),
    "limits exchanged": (
        HEAD + '[[readings]]\nwhat = "x"\nvalue = 1\nunit = "mm"\nlimit_low = 2\nlimit_high = 1\n',
        "line 8, readings row 1, limit_low",
        "above limit_high",
        "limit_low <= limit_high",
        "exchange",
    ),
    "clip ends before it begins": (
        HEAD + '[[log]]\ndate = 2026-10-01\nclip = "a"\nclip_from_s = 9\nclip_to_s = 3\n',
        "line 7, log row 1, clip_from_s",
        "after clip_to_s",
        "clip_from_s <= clip_to_s",
        "exchange",
    ),
    "gate without a question": (
        HEAD + "[[gates]]\nchance_yes = 0.5\n",
        "line 4, gates row 1",
        "without template",
        "a question",
        "kind",
    ),
    "payment for nothing": (
        HEAD + '[[purse]]\ndate = 2026-10-01\nwhat = "pump"\nout_minor = 5\npays = "pump"\n',
        "line 8, purse row 1, pays",
        "'pump'",
        "purchase",
        "take the entry out",
    ),
    "a table for a list": (
        HEAD + '[findings]\nwhat = "rack bent"\n',
        "line 4, findings",
        "a table",
        "a list",
        "[[findings]]",
    ),
    "a text for a table": (
        HEAD + 'purchase = "2450"\n',
        "line 4, purchase",
        "'2450'",
        "a table of fields: ",
        "[purchase]",
    ),
    "TOML without a quote": (
        HEAD + 'vin = "12\n',
        "line 4, column",
        "Illegal character",
        "well-formed TOML",
        "look at that line",
    ),
    "TOML cut off": (HEAD + "days = [", "line 4 (the last)", "Invalid value", "well-formed TOML", "look at that line"),
    "the same table twice": (
        HEAD + "[owner]\n[owner]\n",
        "line 5",
        "Cannot declare",
        "well-formed TOML",
        "look at that line",
    ),
    "JSON without a comma": (
        '{"nickname": "S"\n "year": 2019}',
        "line 2, column 2",
        "Expecting ',' delimiter",
        "well-formed JSON",
        "commas",
    ),
    "JSON with the same field twice": (
        '{"year": 2019, "year": 2020}',
        "the field 'year'",
        "the same field twice",
        "well-formed JSON",
        "fields",
    ),
    "JSON list": ("[1]", "the whole file", "a list with 1 entry", "one table of fields", "one machine a file"),
    "JSON null": (
        '{"nickname": "S", "machine_class": "tourer", "year": 2019, "as_of": null}',
        "as_of",
        "null",
        "a date",
        "leave the field out",
    ),
    "JSON and TOML in one": (
        '{"year": 2019}\nnickname = "S"\n',
        "line 2, column 1",
        "Extra data",
        "well-formed JSON",
        "nothing after it",
    ),
    "TOML under the name of JSON": (HEAD, "line 1, column 1", "Expecting value", "well-formed JSON", "double quotes"),
    "zero bytes": (HEAD.encode() + b"\x00\x00", "byte 58", "a zero byte", "text in UTF-8", "plain text"),
    "zero character, spelt out": (
        HEAD + 'vin = "a\\u0000b"\n',
        "line 4, vin",
        "U+0000",
        "printable characters",
        "take that character out",
    ),
    "half a character": (
        '{"nickname": "\\ud800", "machine_class": "tourer", "year": 2019}',
        "nickname",
        "U+D800",
        "printable",
        "take that",
    ),
    "another encoding": (
        HEAD.encode() + 'vin = "Müller"'.encode("latin-1"),
        "line 4, byte 66",
        "0xFC",
        "UTF-8",
        "save the file as UTF-8",
    ),
    "UTF-16": (HEAD.encode("utf-16"), "byte 1", "UTF-16", "text in UTF-8", "save the file as UTF-8"),
    "too large": (
        b"#" * (LARGEST_BYTES + 1),
        "the whole file",
        "5,000,001 bytes",
        "at most 5,000,000 bytes",
        "keep photographs",
    ),
    "nested without end, TOML": (
        HEAD + "extra = {x = " + "[" * 100_000,
        "the whole file",
        "nested too deeply",
        "well-formed TOML",
        "look",
    ),
    "nested without end, JSON": (
        '{"extra":' * 100_000,
        "the whole file",
        "nested too deeply",
        "well-formed JSON",
        "look",
    ),
    "nested in extra": (
        HEAD + "[extra]\nx = " + "[" * 40 + "]" * 40,
        "line 4, extra",
        "nested more than 8 deep",
        "at most 8",
        "flatten",
    ),
    "names of endless parts": (
        HEAD + "a" + ".a" * 100_000 + " = 1",
        "line 4",
        "more than 200 dots",
        "well-formed TOML",
        "look",
    ),
    "null in extra": (
        '{"nickname": "S", "machine_class": "tourer", "year": 2019, "extra": {"x": [null]}}',
        "extra, x",
        "null",
        "texts, numbers",
        "leave the field out",
    ),
    "NaN in extra": (HEAD + "[extra]\nx = nan\n", "line 5, extra, x", "nan", "a finite number", "leave the field out"),
    "a sound value of nought": (
        HEAD + "[market]\nsound_value_minor = 0\n",
        "line 5, market, sound_value_minor",
        "0",
        "above 0",
        "leave the field out",
    ),
    "a band of nought": (
        HEAD + "[market.sound_value]\nlow_minor = 0\nlikely_minor = 0\nhigh_minor = 500\n",
        "line 4, market",
        "0",
        "above 0",
        "leave the field out",
    ),
    "a workshop for nothing": (
        HEAD + "[owner]\nworkshop_hour_minor = 0\n",
        "line 5, owner, workshop_hour_minor",
        "0",
        "above 0",
        "hour_value_minor",
    ),
    "most likely no time": (
        HEAD + '[[jobs]]\nname = "x"\nminutes = { low = 0, likely = 0, high = 9 }\n',
        "line 6, jobs",
        "no time at all",
        "likely above 0",
        "bet on",
    ),
    "a question twice": (
        HEAD + '[[gates]]\ntemplate = "turns"\nanswer = "yes"\n[[gates]]\ntemplate = "turns"\n',
        "line 8, gates",
        "gates row 1 speaks already",
        "one row for each template",
        "one row",
    ),
    "too many rows": (
        HEAD + "findings = [" + '"a",' * 10_001 + "]",
        "line 4, findings",
        "10001 rows",
        "at most 10000",
        "another file",
    ),
}
JSON_NAMES = {"TOML under the name of JSON", "JSON list"}


@pytest.mark.parametrize("kind", BAD_FILES)
def test_a_bad_file_is_told_where_what_allowed_and_what_to_do(kind: str) -> None:
    text, where, found, allowed, do = BAD_FILES[kind]
    error = problems_of(text, "wreck.json" if kind in JSON_NAMES else "wreck.toml")
    problem = error.problems[0]
    assert problem.where.startswith(where)
    assert found in problem.found
    assert allowed in problem.allowed
    assert do in problem.do
    assert len(error.problems) == 1
    assert error.what.startswith("wreck.") and str(error).isprintable() and len(str(error)) < 1500


def test_all_problems_are_listed_in_the_order_of_the_file() -> None:
    error = problems_of(
        'yaer = 2019\nodometer = nan\n[[findings]]\nwhat = 3\n[[parts]]\nstate = "orderd"\nprice_minor = 1.5\n'
    )
    assert [problem.where for problem in error.problems] == [
        "line 1, yaer",
        "line 2, odometer",
        "line 4, findings row 1, what",
        "line 6, parts row 1, state",
        "line 7, parts row 1, price_minor",
        "nickname",
        "machine_class",
        "year",
    ]
    assert error.problems[3].do == "write ordered"
    assert error.report().splitlines()[0] == "wreck.toml: 8 problems"
    assert "(and 7 more)" in str(error)


def test_rules_within_the_record_are_listed_together_too() -> None:
    error = problems_of(
        HEAD + "[calendar]\nweekday_minutes = [-1, 0, 0, 0, 0, 0, 2000]\n"
        '[[findings]]\n[[jobs]]\nname = "a"\nafter = ["j1"]\n'
    )
    # hand-worked: a job after itself is the shortest circle; -1 and 2000 minutes are two faults of one list.
    assert [problem.where for problem in error.problems] == [
        "line 5, calendar, weekday_minutes entry 1",
        "line 5, calendar, weekday_minutes entry 7",
        "line 6, findings row 1",
        "line 9, jobs row 1, after",
    ]


def test_of_very_many_problems_the_first_hundred_are_listed() -> None:
    error = problems_of(HEAD + "findings = [" + "1," * 250 + "]")
    assert len(error.problems) == 101
    assert error.problems[-1].found == "at least 150 more"


def test_json_places_name_the_row_and_its_handle() -> None:
    record = {"nickname": "S", "machine_class": "tourer", "year": 2019, "parts": [{"id": "pump", "state": "lost"}]}
    assert problems_of(json.dumps(record), "a.json").problems[0].where == "parts row 1 (pump), state"
