"""The frame: files, compression, errors as pages and as JSON, words instead of traces. All rules are our own."""

from __future__ import annotations

import dataclasses
import hashlib
import json
import re
import shutil
import sqlite3
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Route
from starlette.testclient import TestClient

from wreckwright.acts.place import Place
from wreckwright.acts.safe import backup_all
from wreckwright.errors import (
    AnswerError,
    ConflictError,
    EntryError,
    FieldConflict,
    NotThere,
    OperationError,
    Problem,
    RecordError,
    StoreError,
    TradeDataError,
    UsageError,
    WreckwrightError,
)
from wreckwright.settings import TRACE_VARIABLE
from wreckwright.web.statics import HTMX_FILE, HTMX_PACKAGE, Statics

HTMX_SHA256 = "491955cd1810747d7d7b9ccb936400afb760e06d25d53e4572b64b6563b2784e"
"""Of htmx 2.0.3 as the package carries it; another file is not served without somebody having looked at it."""
WEB = Path(__file__).resolve().parents[2] / "src" / "wreckwright" / "web"

CONFLICT = FieldConflict(kind="findings", handle="f1", field="severity", base=1, now=2, wanted=3, since="Noted: bent")
PROBLEMS = [Problem(where=f"line {n}", found="19", allowed="1900 to 2100", do="write four digits") for n in (3, 4)]
ERRORS: dict[str, tuple[WreckwrightError, int]] = {
    "entry": (EntryError("price: found 'lots'", "a sum", "Write 2450", field="price"), 422),
    "record": (RecordError(PROBLEMS), 422),
    "answer": (AnswerError("no day", "a day", "Name one"), 422),
    "trade": (TradeDataError("row 3", "a row", "Mend it"), 422),
    "usage": (UsageError("both", "one", "Choose"), 400),
    "there": (NotThere("no machine 'x'", "one of yours", "Choose"), 404),
    "store": (StoreError("disk full", "room", "Make room"), 503),
    "conflict": (ConflictError("changed meanwhile", "as it is", "Choose", conflicts=[CONFLICT]), 409),
    "operation": (OperationError("sent before", "once", "Send anew"), 409),
}


@pytest.fixture
def failing(app: Starlette) -> Iterator[TestClient]:
    """Pages that raise each error in turn, and one that fails in a way nobody foresaw."""

    def fail(request: Request) -> Response:
        name = request.path_params["name"]
        if name == "fault":
            raise ZeroDivisionError("secret of the house")
        raise ERRORS[name][0]

    app.router.routes.append(Route("/fail/{name}", fail, methods=["GET", "POST"]))
    with TestClient(app, base_url="http://127.0.0.1", follow_redirects=False) as made:
        made.get("/")
        yield made


def token_in(page: str) -> str:
    return page.partition('name="csrf" content="')[2].partition('"')[0]


# ---- errors ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ERRORS)
def test_an_error_is_a_page_with_its_words(failing: TestClient, name: str) -> None:
    error, status = ERRORS[name]
    answer = failing.get(f"/fail/{name}")
    assert answer.status_code == status
    assert answer.text.count("<h1") == 1
    if not isinstance(error, RecordError):
        for part in (error.what, error.allowed, error.do):
            assert part.replace("'", "&#39;").lower() in answer.text.lower()


@pytest.mark.parametrize("name", ERRORS)
def test_the_outbox_gets_an_error_as_json(failing: TestClient, name: str) -> None:
    error, status = ERRORS[name]
    token = token_in(failing.get("/").text)
    answer = failing.post(f"/fail/{name}", data={"csrf": token}, headers={"x-outbox": "1"})
    assert answer.status_code == status
    said = answer.json()
    assert (said["what"], said["allowed"], said["do"]) == (error.what, error.allowed, error.do)
    assert said["kind"]


def test_a_part_of_a_page_gets_its_error_as_a_part(failing: TestClient) -> None:
    answer = failing.get("/fail/there", headers={"hx-request": "true"})
    assert answer.status_code == 404
    assert "<html" not in answer.text and 'role="alert"' in answer.text


def test_every_problem_of_a_record_is_listed(failing: TestClient) -> None:
    text = failing.get("/fail/record").text
    assert "2 things to put right" in text and "line 3" in text and "line 4" in text


def test_the_field_that_is_wrong_can_be_put_right_and_the_rest_is_kept(failing: TestClient) -> None:
    token = token_in(failing.get("/").text)
    answer = failing.post("/fail/entry", data={"csrf": token, "op": "a" * 12, "price": "lots", "name": "Fawn & co"})
    assert answer.status_code == 422
    assert re.search(r'<input id="f-price" name="price" type="text" value="lots"', answer.text)
    assert '<input type="hidden" name="name" value="Fawn &amp; co">' in answer.text
    assert "a" * 12 not in answer.text, "sent again it is a new operation"


def test_a_conflict_shows_both_sides_and_offers_mine_over_the_state_of_now(
    app: Starlette, uids: dict[str, str]
) -> None:
    with app.state.store.reading() as reader:
        row = next(row for row in reader.rows(uids["Sorrel"]) if row.key.kind == "findings")
    found = dataclasses.replace(CONFLICT, handle=row.key.handle)

    def clash(request: Request) -> Response:
        raise ConflictError("the finding was changed", "as it is now", "Choose", conflicts=[found])

    app.router.routes.insert(0, Route("/machine/{uid}/clash", clash, methods=["POST"]))
    with TestClient(app, base_url="http://127.0.0.1") as client:
        token = token_in(client.get("/").text)
        fields = {"csrf": token, "op": "c" * 12, "base": "77", "severity": "3"}
        answer = client.post(f"/machine/{uids['Sorrel']}/clash", data=fields)
    assert answer.status_code == 409
    assert all(words in answer.text for words in ("You saw", "It is now", "You wrote", "Noted: bent."))
    # The revision it was made from tells what was changed in it; the one it is written over is that of now.
    assert '<input type="hidden" name="base" value="77">' in answer.text
    assert f'<input type="hidden" name="over" value="{row.rev} findings {row.key.handle}">' in answer.text
    assert '<input type="hidden" name="severity" value="3">' in answer.text
    # What the telephone kept of it is settled once both sides are shown.
    assert '<meta name="settled" content="cccccccccccc">' in answer.text


def test_a_fault_is_an_apology_without_a_trace(failing: TestClient, capsys: pytest.CaptureFixture[str]) -> None:
    answer = failing.get("/fail/fault")
    assert answer.status_code == 500
    assert "Sorry" in answer.text and "fault of the program" in answer.text
    assert "Traceback" not in answer.text and "test_app.py" not in answer.text
    out = capsys.readouterr()
    assert out.err == "" and out.out == ""


def test_a_fault_shows_where_it_happened_on_the_error_stream_if_asked(
    failing: TestClient, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv(TRACE_VARIABLE, "1")
    answer = failing.get("/fail/fault")
    assert "Traceback" not in answer.text
    assert "ZeroDivisionError" in capsys.readouterr().err


def test_an_error_is_said_even_when_the_store_is_gone(failing: TestClient, app: Starlette) -> None:
    class Gone:
        def reading(self) -> object:
            raise StoreError("the disk is gone", "a disk", "Put it back")

    app.state.store = Gone()
    answer = failing.get("/fail/there")
    assert answer.status_code == 404
    assert "no machine" in answer.text.lower()


def test_pages_read_the_database_that_took_the_place_of_a_damaged_one(
    client: TestClient, token: str, uids: dict[str, str], place: Place, tmp_path: Path
) -> None:
    """`restore` puts a damaged one aside while the pages are open, perhaps from another program."""
    assert "Sorrel" in client.get("/").text
    copy = backup_all(place, tmp_path / "copies")
    for ending in ("", "-wal", "-shm"):
        place.database.with_name(place.database.name + ending).unlink(missing_ok=True)
    # As long as there is none, what was told waits on the telephone: 503 is tried again.
    assert client.get("/").status_code == 503
    tapped = client.post(
        f"/machine/{uids['Sorrel']}/tap", data={"csrf": token, "what": "snag"}, headers={"x-outbox": "1"}
    )
    assert (tapped.status_code, tapped.json()["kind"]) == (503, "store")
    with sqlite3.connect(copy) as raw:
        raw.execute("UPDATE machine SET nickname = 'Tansy' WHERE nickname = 'Sorrel'")
    shutil.copyfile(copy, place.database)
    assert "Tansy" in client.get("/").text


def test_an_address_that_is_not_there_is_said_in_words(client: TestClient) -> None:
    answer = client.get("/nowhere/at/all")
    assert answer.status_code == 404
    assert "no page at this address" in answer.text


def test_only_one_place_translates_errors() -> None:
    for file in WEB.glob("*.py"):
        if file.name not in ("guard.py", "app.py"):
            assert "except Exception" not in file.read_text(encoding="utf-8"), file.name


# ---- files -----------------------------------------------------------------------------------------------------------


def test_htmx_is_the_file_we_know() -> None:
    data = resources.files(HTMX_PACKAGE).joinpath(HTMX_FILE).read_bytes()
    assert hashlib.sha256(data).hexdigest() == HTMX_SHA256


def test_no_copy_of_other_peoples_scripts_is_kept_here() -> None:
    assert sorted(file.name for file in (WEB / "static").iterdir()) == ["app.css", "mark.svg", "outbox.js", "page.js"]


def test_pages_name_files_by_their_content(client: TestClient) -> None:
    page = client.get("/").text
    addresses = re.findall(r'(?:src|href)="(/static/[^"]+)"', page)
    assert {address.partition("?")[0] for address in addresses} >= {
        "/static/app.css",
        "/static/outbox.js",
        "/static/page.js",
        "/static/htmx.js",
        "/static/mark.svg",
    }
    for address in addresses:
        answer = client.get(address)
        assert answer.status_code == 200
        assert "immutable" in answer.headers["cache-control"]
        assert answer.headers["content-type"].partition(";")[0] in ("text/css", "text/javascript", "image/svg+xml")


def test_a_changed_file_has_another_address() -> None:
    one, other = Statics({"app.css": b"a{}"}), Statics({"app.css": b"b{}"})
    assert one.address("app.css") != other.address("app.css")


def test_an_old_address_is_not_kept_for_long_and_an_unchanged_file_not_sent_twice(client: TestClient) -> None:
    answer = client.get("/static/app.css?v=000000000000")
    assert answer.headers["cache-control"] == "no-cache"
    again = client.get("/static/app.css", headers={"if-none-match": answer.headers["etag"]})
    assert again.status_code == 304 and again.content == b""


@pytest.mark.parametrize("name", ["../app.py", "..%2fapp.py", "app.py", "none.css", "%00"])
def test_no_other_file_is_served(client: TestClient, name: str) -> None:
    assert client.get(f"/static/{name}").status_code == 404


def test_pages_and_files_are_compressed(client: TestClient) -> None:
    for path in ("/", "/static/htmx.js", "/static/app.css"):
        assert client.get(path).headers["content-encoding"] == "gzip"


def test_pages_hold_no_script_or_style_of_their_own() -> None:
    for file in (WEB / "templates").glob("*.html"):
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:|hx-on|hx-vals=.js:", text), file.name
        assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", text)), file.name


def test_htmx_is_told_to_stay_at_home(client: TestClient) -> None:
    (config,) = re.findall(r"""<meta name="htmx-config" content='([^']+)'>""", client.get("/").text)
    assert json.loads(config) == {
        "includeIndicatorStyles": False,
        "allowEval": False,
        "timeout": 6000,
        "selfRequestsOnly": True,
    }


def test_colours_and_sizes_are_named_in_one_place() -> None:
    css = (WEB / "static" / "app.css").read_text(encoding="utf-8")
    rules = re.sub(r":root \{.*?\n\s*\}\n", "", css, flags=re.DOTALL)
    rules = re.sub(r"\[(?:fill|stroke)=\"#[0-9a-f]+\"\]", "", rules)
    assert not re.search(r"#[0-9a-f]{3,8}\b", rules)
    assert "box-shadow" not in css
