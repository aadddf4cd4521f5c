"""The published schema is the one the types give, and the examples obey it."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import msgspec
import pytest
from hypothesis import given, settings

from tests.record.machines import SLOW_TO_MAKE, machines
from tests.record.test_bad_files import BAD_FILES
from wreckwright.record.file import read_record, to_json
from wreckwright.record.schema import json_schema
from wreckwright.record.types import Machine

ROOT = Path(__file__).resolve().parents[2]
EXAMPLES = sorted((ROOT / "examples").rglob("*.toml"))
VALIDATOR = jsonschema.Draft202012Validator(json_schema(), format_checker=jsonschema.FormatChecker())


def as_json(raw: dict[str, Any]) -> Any:
    return json.loads(json.dumps(raw, default=lambda value: value.isoformat()))


def test_the_published_schema_is_up_to_date() -> None:
    published = json.loads((ROOT / "docs" / "record.schema.json").read_text())
    assert published == json_schema(), "write it anew: json_schema() as JSON with an indent of 1"


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: str(path.relative_to(ROOT / "examples")))
def test_examples_obey_the_schema_as_written_and_as_json(path: Path) -> None:
    data = path.read_bytes()
    # independent (jsonschema): the file as its author wrote it, short forms included, and what the program makes of it.
    VALIDATOR.validate(as_json(tomllib.loads(data.decode())))
    VALIDATOR.validate(json.loads(to_json(read_record(data, name=path.name))))


@settings(max_examples=40, suppress_health_check=SLOW_TO_MAKE)
@given(machines())
def test_whatever_is_written_obeys_the_schema(machine: Machine) -> None:
    # independent (jsonschema)
    VALIDATOR.validate(json.loads(to_json(machine)))


@pytest.mark.parametrize(
    "kind",
    [
        "wrong type",
        "unknown key",
        "unknown key in a row",
        "money with decimals",
        "negative money",
        "chance above one",
        "negative working time",
        "word not in the list",
        "missing nickname",
        "newer format",
        "currency",
        "text too long",
        "week of five days",
        "severity four",
        "a table for a list",
        "JSON null",
        "too many rows",
    ],
)
def test_the_schema_refuses_what_the_reader_refuses(kind: str) -> None:
    text = BAD_FILES[kind][0]
    assert isinstance(text, str)
    raw = json.loads(text) if text.startswith("{") else as_json(tomllib.loads(text))
    assert not VALIDATOR.is_valid(raw)


def test_every_field_is_written_down() -> None:
    page = (ROOT / "docs" / "record-format.md").read_text()
    sections = dict(re.findall(r"^## (.+?)\n(.*?)(?=^## |\Z)", page, re.MULTILINE | re.DOTALL))
    sections["Machine"] = sections["The machine"]
    root = msgspec.inspect.type_info(Machine)
    assert isinstance(root, msgspec.inspect.StructType)
    for field in root.fields:
        assert f"`{field.name}`" in sections["Machine"], field.name
        inner = getattr(field.type, "item_type", field.type)
        if isinstance(inner, msgspec.inspect.StructType):
            for key in inner.fields:
                if key.name not in ("extra", "id", "by", "at"):
                    assert f"`{key.name}`" in sections[field.name.capitalize().replace("_", " ")], key.name
