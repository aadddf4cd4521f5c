"""A finding more in a record file: read back it is there, and every letter that stood there before still stands."""

from __future__ import annotations

import json
import os
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wreckwright.acts import note_file
from wreckwright.acts.finding_form import FindingForm
from wreckwright.acts.note_file import note_in_file, with_finding
from wreckwright.errors import EntryError, RecordError
from wreckwright.record.file import read_record

HEAD = 'nickname = "Thistle" # ours\nmachine_class = "naked"\nyear = 2016\n'
EXAMPLES = sorted((Path(__file__).resolve().parents[2] / "examples").rglob("*.toml"))
GONE = {"what": "left mirror gone"}


def is_inside(small: str, large: str) -> bool:
    """Whether `small` comes out of `large` by striking letters."""
    rest = iter(large)
    return all(letter in rest for letter in small)


LAYOUTS = {
    "no findings": HEAD,
    "no line end": HEAD.rstrip("\n"),
    "after a table": HEAD + "[purchase]\nbought = true\n",
    "empty list": HEAD + "findings = []\n",
    "empty list over lines": HEAD + "findings = [\n  # nothing yet\n]\n",
    "one line": HEAD + 'findings = ["tank dented", "seat torn"] # two\n',
    "comma at the end": HEAD + 'findings = ["tank dented", ]\n',
    "a line each": HEAD
    + 'findings = [\n\t"tank dented", # deep\n\t"seat torn"   # old ]\n] # that was it\n[purchase]\n',
    "a line each, comma": HEAD + 'findings = [\n  "tank dented",\n  # and\n  "seat torn",\n  ]\n',
    "comma on the last line": HEAD + 'findings = [ "tank dented"\n  , "seat torn"\n  , ]\n',
    "brackets in texts": HEAD + "findings = [{ what = 'tank dented', evidence = \"at ] \\\" [\" }, 'seat torn']\n",
    "long text": HEAD + 'findings = [{ what = """tank\ndented]""" , severity = 1 },\n"seat torn"]\n',
    "blocks": HEAD + '[[findings]]\nwhat = "tank dented"\n[[signs]]\nsign = "chain_side_scraped"\n',
    "quoted key": HEAD + '"findings" = ["tank dented"]\n',
    "name in a text": HEAD + 'maker_and_model = "findings = [1]"\nfindings = ["tank dented"]\n',
    "windows": (HEAD + 'findings = [\n  "tank dented"\n]\n[market]\n').replace("\n", "\r\n"),
    "marked as utf-8": "\ufeff" + HEAD + 'findings = ["tank dented"]\n',
}


@pytest.mark.parametrize(
    "fields", [GONE, GONE | {"severity": 3, "photos": ["ab" * 32, "cd" * 32]}], ids=["words", "more"]
)
@pytest.mark.parametrize("layout", LAYOUTS)
def test_one_finding_more_and_nothing_else_moved(layout: str, fields: dict[str, object]) -> None:
    text = LAYOUTS[layout]
    # "chain_side_scraped" is no sign of the trade data; here only the text is looked at.
    after = with_finding(text.encode(), fields, name="a.toml").decode()
    assert is_inside(text, after)
    before_raw, after_raw = (tomllib.loads(one.removeprefix("\ufeff").replace("\r\n", "\n")) for one in (text, after))
    *rest, new = after_raw.pop("findings")
    assert rest == before_raw.pop("findings", [])
    assert after_raw == before_raw
    assert ({"what": new} if isinstance(new, str) else new) == fields
    assert after.count("\r\n") == (after.count("\n") if layout == "windows" else 0)


@pytest.mark.parametrize("path", EXAMPLES, ids=lambda path: "-".join(path.parts[-2:]))
def test_the_examples_keep_every_letter(path: Path, tmp_path: Path) -> None:
    file = tmp_path / path.name
    file.write_bytes(path.read_bytes())
    before = read_record(path.read_bytes())
    assert note_in_file(file, FindingForm(what="left mirror gone")) == "left mirror gone"
    after = read_record(file.read_bytes())
    assert after.findings[:-1] == before.findings
    assert after.findings[-1].what == "left mirror gone"
    assert is_inside(path.read_text(encoding="utf-8"), file.read_text(encoding="utf-8"))


BLANK = st.sampled_from(["", " ", "\n", "\n\t", " # a ], b\n", "\n\n  "])
ENTRY = st.sampled_from(['"tank dented"', "'seat torn'", '{ what = "a ] b" }', '{what="x",photos=[]}', '"""c\nd"""'])


@given(st.lists(st.tuples(BLANK, ENTRY, BLANK), max_size=4), st.booleans(), BLANK)
def test_whatever_blanks_comments_and_commas_stand_between(
    entries: list[tuple[str, str, str]], comma: bool, last: str
) -> None:
    inside = ",".join("".join(entry) for entry in entries) + ("," if comma and entries else "") + last
    text = f"{HEAD}findings = [{inside}] # end\n[market]\n"
    before = tomllib.loads(text)["findings"]
    after = with_finding(text.encode(), GONE, name="a.toml").decode()
    assert tomllib.loads(after)["findings"] == [*before, GONE["what"]]
    # One entry and at most one comma, blanks and a line end: nothing else is new.
    assert is_inside(text, after)
    assert len(after) <= len(text) + len('"left mirror gone"') + 16


def test_a_json_file_keeps_its_values_and_the_order_of_its_fields(tmp_path: Path) -> None:
    file = tmp_path / "thistle.json"
    raw = {
        "year": 2016,
        "nickname": "Thistle",
        "findings": ["tank dented"],
        "machine_class": "naked",
        "extra": {"é": 0.1},
    }
    file.write_text(json.dumps(raw), encoding="utf-8")
    note_in_file(file, FindingForm(what="seat torn", severity=1))
    after = json.loads(file.read_text(encoding="utf-8"))
    assert after == raw | {"findings": ["tank dented", {"what": "seat torn", "severity": 1}]}
    assert list(after) == list(raw)


@pytest.mark.parametrize(
    ("form", "told"),
    [
        (FindingForm(what="the thing is off"), "nearest"),
        (FindingForm(what=""), "nothing is said"),
        (FindingForm(component="no_such_part"), "no_such_part"),
        (FindingForm(what="tank dented", severity=7), "severity"),
    ],
)
def test_what_cannot_be_understood_leaves_the_file_alone(form: FindingForm, told: str, tmp_path: Path) -> None:
    file = tmp_path / "thistle.toml"
    file.write_text(HEAD, encoding="utf-8")
    with pytest.raises(EntryError, match=told):
        note_in_file(file, form)
    assert file.read_text(encoding="utf-8") == HEAD


def test_a_record_that_is_wrong_already_is_told_and_left_alone(tmp_path: Path) -> None:
    file = tmp_path / "thistle.toml"
    file.write_text(HEAD.replace("2016", "19"), encoding="utf-8")
    with pytest.raises(RecordError, match="year"):
        note_in_file(file, FindingForm(what="tank dented"))
    assert "findings" not in file.read_text(encoding="utf-8")


def test_findings_written_as_no_list_can_be_added_to_are_not_touched() -> None:
    # A reader of TOML takes this, and it is refused as a record; the text is not guessed at.
    with pytest.raises(RecordError) as caught:
        with_finding(b"findings.what = 'tank dented'\n", GONE, name="a.toml")
    assert 'add it by hand: "left mirror gone"' in caught.value.do


def test_a_file_that_is_edited_meanwhile_is_not_written_over(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    file = tmp_path / "thistle.toml"
    file.write_text(HEAD, encoding="utf-8")
    true_way = note_file.with_finding

    def slowly(*arguments: object, **more: object) -> bytes:
        file.write_text(HEAD + "# meanwhile\n", encoding="utf-8")
        return true_way(*arguments, **more)  # type: ignore[arg-type]

    monkeypatch.setattr(note_file, "with_finding", slowly)
    with pytest.raises(RecordError, match="changed meanwhile"):
        note_in_file(file, FindingForm(what="tank dented"))
    assert file.read_text(encoding="utf-8") == HEAD + "# meanwhile\n"


@pytest.mark.skipif(os.name == "nt", reason="POSIX permissions")
def test_permissions_stay_and_a_link_is_followed(tmp_path: Path) -> None:
    file, link = tmp_path / "thistle.toml", tmp_path / "link.toml"
    file.write_text(HEAD, encoding="utf-8")
    file.chmod(0o640)
    link.symlink_to(file)
    note_in_file(link, FindingForm(what="tank dented"))
    assert link.is_symlink()
    assert file.stat().st_mode & 0o777 == 0o640
    assert "tank dented" in file.read_text(encoding="utf-8")
