"""The record as a JSON schema, made from the declared types, for editors and other programs."""

from __future__ import annotations

import json
from typing import Any

import msgspec

from wreckwright.record.rules import HANDLE_PREFIX
from wreckwright.record.shape import MOST_ROWS
from wreckwright.record.types import Machine
from wreckwright.record.upcast import CURRENT_FORMAT

_TITLE = f"wreckwright record, format {CURRENT_FORMAT}"
_SHORT_FORMS = {"findings": "what", "signs": "sign"}


def json_schema() -> dict[str, Any]:
    """JSON schema (2020-12) of a record as it may be written, short forms included.

    It says what shape a record has; the rules within it (references, orders, cycles) are beyond a schema.

    >>> json_schema()["title"]
    'wreckwright record, format 1'
    """
    (reference,), tables = msgspec.json.schema_components([Machine], ref_template="#/$defs/{name}")
    for table in tables.values():
        # A row without an id gets one by its place, so a file need not have it.
        if "required" in table:
            table["required"] = [key for key in table["required"] if key != "id"]
        for name, field in table.get("properties", {}).items():
            table["properties"][name] = _no_null(field)
    fields = tables["Machine"]["properties"]
    fields["format"] = {"type": "integer", "minimum": 1, "maximum": CURRENT_FORMAT, "default": CURRENT_FORMAT}
    for name in HANDLE_PREFIX:
        fields[name]["maxItems"] = MOST_ROWS
    for name, key in _SHORT_FORMS.items():
        words = tables[fields[name]["items"]["$ref"].rsplit("/", 1)[1]]["properties"][key]
        fields[name]["items"] = {"anyOf": [fields[name]["items"], {"type": "string", "maxLength": words["maxLength"]}]}
    fields["what_hit"] = {"anyOf": [fields["what_hit"], fields["what_hit"]["items"]]}
    schema = {"$schema": "https://json-schema.org/draft/2020-12/schema", "title": _TITLE, **reference, "$defs": tables}
    plain: dict[str, Any] = json.loads(json.dumps(schema))
    return plain


def _no_null(field: dict[str, Any]) -> dict[str, Any]:
    """A field that may be absent, but never null."""
    kinds = [kind for kind in field.get("anyOf", ()) if kind != {"type": "null"}]
    if not kinds:
        return field
    rest = {key: value for key, value in field.items() if key not in ("anyOf", "default")}
    return {**kinds[0], **rest} if len(kinds) == 1 else {"anyOf": kinds, **rest}
