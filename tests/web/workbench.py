"""A server process that is treated badly: killed in the middle, started again on the same folder and port."""

from __future__ import annotations

import signal
import socket
import subprocess
import sys

from tests.web.browser import wait_for
from wreckwright.acts.place import Place

PROGRAM = """
import sys
from pathlib import Path
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Reckoner
from wreckwright.web.app import create_app
from wreckwright.web.server import listen, run

class Still(Reckoner):
    def want(self, uid, *, first=False):
        pass

place = Place(Path(sys.argv[1]))
run(create_app(place, reckoner=Still(place)), listen("127.0.0.1", int(sys.argv[2])))
"""
"""The workbench as it is started by hand, but that it reckons nothing."""


class Workbench:
    """A server process that can be killed and started again on the same folder and port."""

    def __init__(self, place: Place) -> None:
        self._place = place
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            self.port: int = probe.getsockname()[1]
        self._process: subprocess.Popen[bytes] | None = None

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        words = [sys.executable, "-P", "-c", PROGRAM, str(self._place.folder), str(self.port)]
        self._process = subprocess.Popen(words)
        wait_for(self._answers, what="the workbench is open", seconds=30)

    def kill(self) -> None:
        """As when the plug is pulled: nothing can be brought to an end."""
        if self._process is not None:
            self._process.send_signal(signal.SIGKILL)
            self._process.wait(10)
            self._process = None

    def _answers(self) -> bool:
        assert self._process is not None and self._process.poll() is None, "the workbench ended by itself"
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0
