"""Loss-free: what is written reads back equal, in both forms."""

from __future__ import annotations

import json
import tomllib

from hypothesis import given, settings

from tests.record.machines import SLOW_TO_MAKE, machines
from wreckwright.record.file import read_record, to_json, to_toml
from wreckwright.record.types import Machine


@settings(max_examples=100, suppress_health_check=SLOW_TO_MAKE)
@given(machines())
def test_toml_and_json_read_back_equal(machine: Machine) -> None:
    text = to_toml(machine)
    assert read_record(text.encode(), name="a.toml") == machine
    data = to_json(machine)
    assert read_record(data, name="a.json") == machine
    # independent (the readers of the standard library): both forms hold the same plain values, dates apart.
    assert set(tomllib.loads(text)) == set(json.loads(data))
