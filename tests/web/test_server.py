"""Opening and closing the workbench: port, words, pairing, and an end without a trace. Our own rules."""

from __future__ import annotations

import re
import signal
import socket
import subprocess
import sys
import urllib.error
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from tests.web.browser import wait_for
from wreckwright.acts.place import Place
from wreckwright.errors import UsageError
from wreckwright.web.server import PORT, address, greeting, listen

PROGRAM = """
import sys
from pathlib import Path
from wreckwright.acts.place import Place
from wreckwright.web.server import serve
serve(Place(Path(sys.argv[1])), port=int(sys.argv[2]), pairing=sys.argv[3] == "pairing",
      tell=lambda line: print(line, flush=True))
"""


@contextmanager
def started(place: Place, *, pairing: bool = False) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """`serve` in a process of its own; the process, and the address it says."""
    words = [sys.executable, "-P", "-c", PROGRAM, str(place.folder), "0", "pairing" if pairing else "alone"]
    process = subprocess.Popen(words, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    try:
        assert process.stdout is not None
        line = process.stdout.readline()
        found = re.search(r"http://\S+", line)
        assert found, (line, process.stderr and process.stderr.read() if process.poll() is not None else "")
        yield process, found[0]
    finally:
        process.kill()
        process.communicate()


def status(url: str) -> int:
    try:
        with urllib.request.urlopen(url, timeout=10) as answer:
            return int(answer.status)
    except urllib.error.HTTPError as error:
        return error.code


def answers(url: str) -> int:
    def ask() -> int:
        try:
            return status(url)
        except OSError:
            return 0

    return int(wait_for(ask, what="it answers"))


@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGTERM], ids=["ctrl-c", "told to end"])
def test_it_ends_in_good_order_and_without_a_trace(place: Place, how: signal.Signals) -> None:
    with started(place) as (process, url):
        assert answers(url) == 200
        process.send_signal(how)
        out, err = process.communicate(timeout=20)
    assert process.returncode == 0
    assert err == ""
    assert out.splitlines()[-1] == "The workbench is closed; all that was told it is kept."


def test_it_listens_on_this_computer_only(place: Place) -> None:
    with started(place) as (_, url):
        assert url.startswith("http://127.0.0.1:")
        answers(url)
        port = int(url.rpartition(":")[2].rstrip("/"))
        with socket.socket() as probe:
            probe.settimeout(2)
            # The whole of 127.0.0.0/8 is this computer; bound to all addresses, it would answer here too.
            assert probe.connect_ex(("127.0.0.2", port)) != 0


def test_with_pairing_it_is_open_to_the_network_but_for_the_key_nothing_is(place: Place) -> None:
    with started(place, pairing=True) as (_, url):
        bare, _, key = url.partition("?pair=")
        assert re.fullmatch(r"[2-9a-hjkmnp-z]{12}", key)
        assert answers(bare) == 403
        assert status(bare.replace("127.0.0.1", "127.0.0.2")) == 403
        opener = urllib.request.build_opener(urllib.request.HTTPCookieProcessor())
        with opener.open(url.replace("127.0.0.1", "127.0.0.2"), timeout=10) as answer:
            assert answer.status == 200 and b"Sorrel" in answer.read()


def test_the_usual_port_and_when_it_is_taken_the_next() -> None:
    with listen("127.0.0.1", None) as first, listen("127.0.0.1", None) as second:
        # Something else on this computer may have the usual port; the order is the same.
        assert PORT <= first.getsockname()[1] < second.getsockname()[1] < PORT + 20


def test_a_port_that_was_asked_for_and_is_taken_is_refused_in_words() -> None:
    with listen("127.0.0.1", 0) as first:
        port = first.getsockname()[1]
        with pytest.raises(UsageError) as caught:
            listen("127.0.0.1", port)
    assert str(port) in caught.value.what and "--port" in caught.value.do


@pytest.mark.parametrize(("host", "port"), [("192.0.2.1", 0), ("no-such-host.invalid", 0), ("127.0.0.1", 99_999)])
def test_what_cannot_be_bound_is_refused_in_words(host: str, port: int) -> None:
    with pytest.raises(UsageError):
        listen(host, port)


def test_the_greeting_names_the_link_for_a_telephone_only_with_pairing() -> None:
    alone = "\n".join(greeting(PORT, host="127.0.0.1", pairing_key=None))
    paired = "\n".join(greeting(PORT, host="127.0.0.1", pairing_key="k7mwq3x9rtab"))
    assert "pair=" not in alone and "telephone" not in alone
    assert address("127.0.0.1", PORT, "k7mwq3x9rtab") in paired
    assert "read and write" in paired
    assert "Ctrl-C closes it." in alone and "Ctrl-C closes it." in paired
