"""A finding written into a record file of the owner's: one row more, comments and layout as they were."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping
from typing import Any

from wreckwright.acts.checks import trade_for
from wreckwright.acts.files import read_bytes, replace_file
from wreckwright.acts.finding_form import FindingForm, check_finding, finding_fields, finding_words
from wreckwright.acts.insert_row import as_block, in_list, inline, value
from wreckwright.errors import Problem, RecordError
from wreckwright.record.against_trade import check_against_trade
from wreckwright.record.file import parse, read_record

FINDINGS = "findings"


def note_in_file(path: str | os.PathLike[str], form: FindingForm) -> str:
    """Add a finding to the end of a record file's findings; what was noted, in a few words.

    The new text is read and checked before it is written. Raises EntryError if the finding cannot be understood,
    RecordError for all else; then the file is as it was.
    """
    name = os.fspath(path)
    before = read_bytes(path)
    machine = read_record(before, name=name)
    fields = {field: value for field, value in finding_fields(form).items() if value is not None}
    finding = check_finding(fields, machine)
    after = with_finding(before, fields, name=name)
    problems = check_against_trade(read_record(after, name=name), trade_for(machine), source=after, name=name)
    if problems:
        raise RecordError(problems, name=name)
    if read_bytes(path) != before:
        raise _refuse(name, "a file that was changed meanwhile", "one that stands still", "ask for the same once more")
    replace_file(name, after)
    return finding_words(finding, machine)


def with_finding(data: bytes, fields: Mapping[str, Any], *, name: str) -> bytes:
    """The bytes of a record that is in order, with one finding more. Of a JSON file the layout is not kept.

    Raises RecordError if its findings are written in a way that cannot be added to.

    >>> with_finding(b'findings = ["tank dented"] # all', {"what": "left mirror gone"}, name="a.toml")
    b'findings = ["tank dented", "left mirror gone"] # all'
    """
    raw, _ = parse(data, name=name)
    row = dict(fields)
    in_words = row["what"] if set(row) == {"what"} else row
    before = list(raw.get(FINDINGS, ()))
    text = data.decode("utf-8")
    if text.lstrip("\ufeff \t\r\n").startswith("{"):
        return (json.dumps(raw | {FINDINGS: [*before, in_words]}, ensure_ascii=False, indent=2) + "\n").encode()
    item = value(in_words) if isinstance(in_words, str) else inline(row)
    ways = ((in_list(text, FINDINGS, item), in_words), (as_block(text, FINDINGS, row), row))
    for new, added in ways:
        if new is not None and _reads_as(new, raw | {FINDINGS: [*before, added]}, name):
            return new.encode()
    raise _refuse(
        name,
        "findings written in a way that cannot be added to without touching the rest",
        "findings = [ ... ], [[findings]], or no findings yet",
        f"add it by hand: {item}",
    )


def _reads_as(text: str, wanted: Mapping[str, Any], name: str) -> bool:
    """Whatever was guessed of the text: it counts only if it reads as the old record and the new row."""
    try:
        return parse(text.encode(), name=name)[0] == wanted
    except RecordError:
        return False


def _refuse(name: str, found: str, allowed: str, do: str) -> RecordError:
    return RecordError([Problem(where=name, found=found, allowed=allowed, do=do)])
