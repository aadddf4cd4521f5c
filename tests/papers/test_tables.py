"""The foresight as CSV reads back as the figures that it was made from."""

from __future__ import annotations

import csv
import io

import msgspec

from tests.papers import made_up
from wreckwright.papers.tables import foresight_csv


def test_every_point_and_every_bin_stands_in_it_once() -> None:
    answer = made_up.foresight()
    rows = list(csv.DictReader(io.StringIO(foresight_csv(answer))))
    by_day = [row for row in rows if row["what"] == "finished_by"]
    sums = [row for row in rows if row["what"] == "left_over"]
    assert len(rows) == len(by_day) + len(sums)
    assert [(row["to"], float(row["share"])) for row in by_day] == [(p.date, p.share) for p in answer.finish_curve]
    assert {row["from"] for row in by_day} == {answer.as_of}
    # hand-worked: bins of 300 euros from -1,200 on, in whole units.
    assert [float(row["from"]) for row in sums[:3]] == [-1200.0, -900.0, -600.0]
    assert [float(row["to"]) for row in sums[:3]] == [-900.0, -600.0, -300.0]
    assert {row["unit"] for row in sums} == {"EUR"}
    assert sum(float(row["share"]) for row in sums) == sum(one.share for one in answer.net_bins)


def test_sums_without_decimals_stay_whole() -> None:
    answer = msgspec.structs.replace(made_up.foresight(), currency="JPY")
    rows = list(csv.DictReader(io.StringIO(foresight_csv(answer))))
    # published (ISO 4217): the yen has no minor unit.
    assert next(row for row in rows if row["what"] == "left_over")["from"] == "-120000.0"
