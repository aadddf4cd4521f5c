"""Who is let in, and what is refused: host names, devices, tokens, pairing, bodies without end. Our own rules."""

from __future__ import annotations

import re
import shutil
import socket
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from starlette.applications import Starlette
from starlette.routing import Route
from starlette.testclient import TestClient

from tests.web.browser import Live
from tests.web.conftest import token_of
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Reckoner
from wreckwright.web.app import create_app
from wreckwright.web.posted import LARGEST_BODY_BYTES, MOST_PHOTOGRAPHS
from wreckwright.web.security import Seal, host_of, is_address, new_device, new_pairing_key

KEY = "k7mwq3x9rtab"


@pytest.fixture
def paired_app(place: Place, reckoner: Reckoner) -> Starlette:
    return create_app(place, reckoner=reckoner, pairing_key=KEY)


@pytest.fixture
def stranger(paired_app: Starlette) -> Iterator[TestClient]:
    with TestClient(paired_app, base_url="http://192.168.7.20:8642", follow_redirects=False) as made:
        yield made


def get_routes(app: Starlette) -> list[str]:
    return [route.path for route in app.routes if isinstance(route, Route) and "GET" in (route.methods or ())]


def post_routes(app: Starlette) -> list[str]:
    return [route.path for route in app.routes if isinstance(route, Route) and "POST" in (route.methods or ())]


def filled(path: str, uid: str) -> str:
    values = {"uid": uid, "handle": "f1", "station": "nose_on", "sha": "a" * 64, "name": "app.css"}
    values |= {"gate": "papers", "check": "sight_and_swing", "key": "water_pump", "cover": "seat_off"}
    for name, value in values.items():
        path = path.replace("{" + name + "}", value)
    assert "{" not in path, path
    return path


# ---- signatures ------------------------------------------------------------------------------------------------------


def test_a_signature_holds_for_one_secret_and_one_device_only() -> None:
    one, other = Seal(b"a" * 32), Seal(b"b" * 32)
    device = new_device()
    assert one.device(one.cookie(device)) == device
    assert other.device(one.cookie(device)) is None
    stolen = one.cookie(device).partition(".")[2]
    assert one.device(f"{new_device()}.{stolen}") is None
    assert one.token(device) != one.token(new_device())
    assert one.token(device) not in one.cookie(device)


@pytest.mark.parametrize("cookie", ["", ".", "abc", "0011223344556677.", "0011223344556677.é", "../../x.y", "0" * 5000])
def test_what_we_did_not_sign_is_no_device(cookie: str) -> None:
    assert Seal(b"a" * 32).device(cookie) is None


@pytest.mark.parametrize(
    ("header", "host", "address"),
    [
        ("127.0.0.1:8642", "127.0.0.1", True),
        ("[::1]:8642", "::1", True),
        ("localhost", "localhost", False),
        ("EVIL.test:80", "evil.test", False),
        ("127.0.0.1.evil.test", "127.0.0.1.evil.test", False),
        ("", "", False),
    ],
)
def test_the_host_name_is_read_without_its_port(header: str, host: str, address: bool) -> None:
    assert host_of(header) == host
    assert is_address(host_of(header)) == address


def test_pairing_keys_differ_and_can_be_typed() -> None:
    keys = {new_pairing_key() for _ in range(50)}
    assert len(keys) == 50
    assert all(re.fullmatch(r"[2-9a-hjkmnp-z]{12}", key) for key in keys)


# ---- host names ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("host", ["evil.test", "192.168.7.20", "127.0.0.1.evil.test", "localhost.evil.test", ""])
def test_another_host_name_is_refused_and_nothing_is_shown(client: TestClient, host: str) -> None:
    answer = client.get("/", headers={"host": host})
    assert answer.status_code == 403
    assert "Sorrel" not in answer.text
    assert "set-cookie" not in answer.headers


@pytest.mark.parametrize("host", ["127.0.0.1:8642", "localhost:1", "[::1]:9", "LOCALHOST"])
def test_this_computer_is_known_by_its_names(client: TestClient, host: str) -> None:
    assert client.get("/", headers={"host": host}).status_code == 200


def test_with_pairing_a_name_in_letters_is_still_refused(stranger: TestClient) -> None:
    # A page elsewhere can make its own name point here (DNS rebinding), but not an address in figures.
    answer = stranger.get(f"/?pair={KEY}", headers={"host": "evil.test"})
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


# ---- devices and tokens ----------------------------------------------------------------------------------------------


def test_a_new_device_gets_its_cookie_once(client: TestClient) -> None:
    first = client.get("/")
    cookie = first.headers["set-cookie"]
    assert (
        cookie.startswith("device_")
        and "HttpOnly" in cookie
        and "SameSite=Lax" in cookie
        and "Max-Age=31536000" in cookie
    )
    assert "device_" not in client.get("/").headers.get("set-cookie", "")


def test_the_pages_of_two_data_folders_on_one_computer_leave_each_other_alone(
    client: TestClient, place: Place, uids: dict[str, str], token: str, tmp_path: Path
) -> None:
    """A browser gives its cookies to every port of a host (RFC 6265, 8.5): the demo's and one's own pages."""
    other_place = Place(tmp_path / "other")
    shutil.copytree(place.folder, other_place.folder, ignore=shutil.ignore_patterns("secret", "photos", "answers"))
    client.get(f"/machine/{uids['Magpie']}")
    with (
        Reckoner(other_place) as idle,
        TestClient(
            create_app(other_place, reckoner=idle), base_url="http://127.0.0.1", follow_redirects=False
        ) as other,
    ):
        cookies = dict(client.cookies)
        other.cookies.update(cookies)
        other.get(f"/machine/{uids['Sorrel']}")
        assert len(other.cookies) == 2 * len(cookies) == 4
        client.cookies.update(dict(other.cookies))
    answer = client.post("/tap", data={"csrf": token, "machine": uids["Magpie"]})
    assert answer.status_code == 307
    assert f'value="{uids["Magpie"]}" selected' in client.get("/").text


def test_static_files_make_no_devices(client: TestClient) -> None:
    assert "set-cookie" not in client.get("/static/app.css").headers


def test_every_form_that_is_posted_needs_the_token(app: Starlette, client: TestClient, uids: dict[str, str]) -> None:
    client.get("/")
    paths = post_routes(app)
    assert "/tap" in paths
    for path in paths:
        for fields in ({}, {"csrf": ""}, {"csrf": "0" * 32}):
            answer = client.post(filled(path, uids["Sorrel"]), data=fields)
            assert answer.status_code == 403, path
            assert "token" in answer.text or "not made for this device" in answer.text


def test_the_token_of_another_device_is_refused(app: Starlette, client: TestClient, uids: dict[str, str]) -> None:
    with TestClient(app, base_url="http://127.0.0.1") as other:
        token = token_of(other.get("/").text)
    client.get("/")
    answer = client.post("/tap", data={"csrf": token, "machine": uids["Sorrel"]})
    assert answer.status_code == 403


def test_a_post_from_another_site_is_refused_even_with_the_token(client: TestClient, token: str) -> None:
    for site in ("cross-site", "same-site"):
        answer = client.post(
            "/tap", data={"csrf": token, "note": "written elsewhere"}, headers={"sec-fetch-site": site}
        )
        assert answer.status_code == 403
        # What another site sent is not offered for sending it again.
        assert "written elsewhere" not in answer.text


def test_a_form_that_lost_its_token_can_be_sent_again_with_what_was_typed(client: TestClient) -> None:
    client.get("/")
    answer = client.post("/tap", data={"csrf": "old", "what": "snag", "note": "chain is <stiff>"})
    assert answer.status_code == 403
    assert "chain is &lt;stiff&gt;" in answer.text
    assert "Send it again" in answer.text
    # The new form carries the token of this device.
    assert f'name="csrf" value="{token_of(answer.text)}"' in answer.text


def test_devices_tokens_and_pairing_survive_a_restart(place: Place, reckoner: Reckoner) -> None:
    def start() -> Starlette:
        return create_app(place, reckoner=reckoner, pairing_key=new_pairing_key())

    app = start()
    with TestClient(app, base_url="http://127.0.0.1") as before:
        page = before.get(f"/?pair={app.user_middleware[-1].kwargs['pairing_key']}")
        assert page.status_code == 200
        token, cookies = token_of(page.text), dict(before.cookies)
    with TestClient(start(), base_url="http://127.0.0.1", cookies=cookies, follow_redirects=False) as after:
        page = after.get("/")
        assert page.status_code == 200
        assert token_of(page.text) == token
        assert after.post("/tap", data={"csrf": token, "machine": "x"}).status_code == 307


@pytest.mark.parametrize("method", ["PUT", "DELETE", "PATCH", "OPTIONS", "TRACE"])
def test_other_methods_reach_no_page(client: TestClient, method: str) -> None:
    client.get("/")
    answer = client.request(method, "/")
    assert answer.status_code == 405


# ---- pairing ---------------------------------------------------------------------------------------------------------


def test_without_the_cookie_nothing_is_readable(
    paired_app: Starlette, stranger: TestClient, uids: dict[str, str]
) -> None:
    for path in get_routes(paired_app):
        answer = stranger.get(filled(path, uids["Sorrel"]))
        assert answer.status_code == 403, path
        assert "Sorrel" not in answer.text
        assert "set-cookie" not in answer.headers
    for path in post_routes(paired_app):
        assert stranger.post(filled(path, uids["Sorrel"]), data={"what": "snag"}).status_code == 403


def test_this_computer_itself_needs_the_key_too(paired_app: Starlette) -> None:
    with TestClient(paired_app, base_url="http://127.0.0.1") as here:
        assert here.get("/").status_code == 403


def test_a_wrong_key_lets_nobody_in_and_costs_time(stranger: TestClient) -> None:
    begun = time.monotonic()
    for key in ("", "k7mwq3x9rtac", KEY[:-1], "é"):
        answer = stranger.get("/", params={"pair": key})
        assert answer.status_code == 403
        assert "set-cookie" not in answer.headers
    assert time.monotonic() - begun > 4 * 0.4


def test_the_link_with_the_key_lets_a_telephone_in_for_good(stranger: TestClient) -> None:
    answer = stranger.get(f"/new?from=x&pair={KEY.upper()}")
    assert answer.status_code == 303
    # The key stays in no address that the browser remembers.
    assert answer.headers["location"] == "/new?from=x"
    assert stranger.get("/").status_code == 200


def test_the_key_leads_nowhere_else(stranger: TestClient) -> None:
    answer = stranger.get(f"http://192.168.7.20:8642//evil.test/x?pair={KEY}")
    assert answer.headers["location"] == "/evil.test/x"


# ---- headers ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("path", ["/", "/nowhere", "/static/app.css", "/static/none.css"])
def test_every_answer_carries_the_headers(client: TestClient, path: str) -> None:
    headers = client.get(path).headers
    policy = headers["content-security-policy"]
    for part in (
        "default-src 'self'",
        "object-src 'none'",
        "base-uri 'none'",
        "frame-ancestors 'none'",
        "form-action 'self'",
    ):
        assert part in policy
    assert "unsafe" not in policy
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"


def test_no_page_is_kept_by_the_browser(client: TestClient) -> None:
    assert client.get("/").headers["cache-control"] == "no-store"


# ---- bodies ----------------------------------------------------------------------------------------------------------


def picture(size: int) -> bytes:
    return b"\xff\xd8\xff\xe0" + bytes(size)


def test_a_disk_that_takes_no_upload_is_no_fault_of_the_program(
    client: TestClient, token: str, uids: dict[str, str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Own rule: 503 is tried again by the outbox, 500 is not."""
    monkeypatch.setattr(tempfile, "tempdir", str(tmp_path / "gone"))
    answer = client.post(
        f"/machine/{uids['Sorrel']}/tap",
        data={"csrf": token, "what": "snag"},
        files={"photos": ("a.jpg", b"\xff\xd8\xff\xe0" + bytes(2_000_000))},
        headers={"x-outbox": "1"},
    )
    assert (answer.status_code, answer.json()["kind"]) == (503, "store")


def test_too_many_photographs_are_refused_in_words(client: TestClient, token: str) -> None:
    files = [("photos", (f"{n}.jpg", picture(10), "image/jpeg")) for n in range(MOST_PHOTOGRAPHS + 1)]
    answer = client.post("/tap", data={"csrf": token, "what": "snag"}, files=files, headers={"x-outbox": "1"})
    assert answer.status_code == 413
    assert answer.json()["kind"] == "too large"
    assert "13 photographs" in answer.json()["what"] and "12 photographs" in answer.json()["allowed"]


def test_a_field_without_end_is_refused(client: TestClient, token: str) -> None:
    answer = client.post("/tap", data={"csrf": token, "note": "x" * 300_000}, files={"photos": ("", b"")})
    assert answer.status_code == 400
    assert "200 kB" in answer.text


@pytest.mark.parametrize(
    ("body", "kind"),
    [
        (b"--x\r\nnonsense", "multipart/form-data; boundary=x"),
        (b"--x", "multipart/form-data"),
        (b"{}", "application/json"),
    ],
)
def test_what_is_no_form_is_refused_without_a_trace(client: TestClient, token: str, body: bytes, kind: str) -> None:
    answer = client.post("/tap", content=body, headers={"content-type": kind, "x-csrf": token})
    assert answer.status_code in (400, 422)
    assert "Traceback" not in answer.text


def send_large(live: Live, *, declared: bool, megabytes: int) -> tuple[bytes, int]:
    """Post a body of that size over a bare socket; the answer, and how many bytes were taken before it came."""
    boundary = "y" * 20
    head = [f"POST /tap HTTP/1.1\r\nHost: 127.0.0.1:{live.port}\r\nX-Outbox: 1"]
    head.append(f"Content-Type: multipart/form-data; boundary={boundary}")
    part = f'--{boundary}\r\nContent-Disposition: form-data; name="photos"; filename="a.jpg"\r\n\r\n'.encode()
    block = bytes(1_000_000)
    head.append(f"Content-Length: {len(part) + megabytes * len(block)}" if declared else "Transfer-Encoding: chunked")
    sent = 0
    with socket.create_connection(("127.0.0.1", live.port), timeout=20) as line:
        line.sendall("\r\n".join(head).encode() + b"\r\n\r\n")
        try:
            for data in (part, *[block] * megabytes):
                line.sendall(data if declared else b"%x\r\n%s\r\n" % (len(data), data))
                sent += len(data)
            if not declared:
                line.sendall(b"0\r\n\r\n")
        except (BrokenPipeError, ConnectionResetError):
            pass
        answer = b""
        while piece := line.recv(65536):
            answer += piece
            if b"}" in answer:
                break
    return answer, sent


@pytest.mark.parametrize("declared", [True, False])
def test_a_body_that_is_too_large_is_refused_in_words_while_it_comes(server: Live, declared: bool) -> None:
    megabytes = LARGEST_BODY_BYTES // 1_000_000 + 15
    answer, _ = send_large(server, declared=declared, megabytes=megabytes)
    assert answer.startswith(b"HTTP/1.1 413")
    assert b"at most 60 MB" in answer


def test_a_body_without_end_is_not_read_for_ever(server: Live) -> None:
    answer, sent = send_large(server, declared=False, megabytes=400)
    assert answer.startswith(b"HTTP/1.1 413")
    assert sent < 300_000_000


def test_a_form_on_the_page_of_an_error_can_be_sent(client: TestClient) -> None:
    answer = client.get("/nowhere")
    assert "device_" in answer.headers["set-cookie"]
    assert client.post("/tap", data={"csrf": token_of(answer.text), "machine": "x"}).status_code == 307
