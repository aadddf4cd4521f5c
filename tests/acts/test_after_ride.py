"""Heat cycles and distance. Expected rows are hand-worked."""

from __future__ import annotations

from pathlib import Path

from tests.acts.at_the_bench import as_one, bench, nothing_written
from tests.acts.kept import SENT, machine, thistle
from wreckwright.acts.after_ride import heat_cycle, ridden
from wreckwright.errors import EntryError


def test_each_heat_cycle_counts_once(tmp_path: Path) -> None:
    place, uid = bench(tmp_path)
    assert as_one(place, lambda sent: heat_cycle(place, uid, sent)).said == "Warm and cold again: once"
    assert as_one(place, lambda sent: heat_cycle(place, uid, sent), "operation2").said == "Warm and cold again: 2 times"
    assert machine(place, uid).heat_cycles == 2


def test_distance_is_as_typed_in_the_unit_of_the_odometer(tmp_path: Path) -> None:
    place, uid = thistle(tmp_path, 'nickname = "T"\nmachine_class = "naked"\nyear = 2016\nodometer_unit = "mi"\n')
    told = as_one(place, lambda sent: ridden(place, uid, "62,5", sent))
    assert (told.said, machine(place, uid).ridden) == ("Ridden 62.5 mi since the first ride", 62.5)
    assert ridden(place, uid, "62.5", SENT).change_id is None
    as_one(place, lambda sent: ridden(place, uid, "", sent), "operation2")
    assert machine(place, uid).ridden is None
    error = nothing_written(place, lambda: ridden(place, uid, "far", SENT), EntryError)
    assert isinstance(error, EntryError) and error.field == "distance"


def test_nobody_warms_an_engine_more_often_than_a_record_can_hold(tmp_path: Path) -> None:
    text = 'nickname = "T"\nmachine_class = "naked"\nyear = 2016\nheat_cycles = 100000\n'
    place, uid = thistle(tmp_path, text)
    nothing_written(place, lambda: heat_cycle(place, uid, SENT), EntryError)
