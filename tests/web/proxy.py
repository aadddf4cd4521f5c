"""A radio link that can fail: a TCP proxy between browser and server.

`stall` holds all bytes, as a telephone out of reach does: nothing is refused, nothing comes, all comes later. `lose`
begins like that, but what was under way never comes, as when the telephone has got another address meanwhile. `cut`
ends all connections and refuses new ones. `pass` lets through.
"""

from __future__ import annotations

import contextlib
import select
import socket
import threading
from typing import Literal

Mode = Literal["pass", "stall", "lose", "cut"]
HELD = ("stall", "lose")
TICK_S = 0.05


class Proxy:
    """Listens on a port of its own and passes on to `port`. Use it in a `with` statement."""

    def __init__(self, port: int) -> None:
        self._target = port
        self._mode: Mode = "pass"
        self._lock = threading.Lock()
        self._open: set[socket.socket] = set()
        self._lost: set[socket.socket] = set()
        self._closed = threading.Event()
        self._listener: socket.socket | None = self._listen(0)
        self.port: int = self._listener.getsockname()[1]
        threading.Thread(target=self._accept, daemon=True).start()

    def __enter__(self) -> Proxy:
        return self

    def __exit__(self, *_: object) -> None:
        self._closed.set()
        self._end_all()
        if self._listener is not None:
            self._listener.close()

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def become(self, mode: Mode) -> None:
        """Change how the link behaves, from now on and for all connections."""
        with self._lock:
            before, self._mode = self._mode, mode
            if before == "lose" and self._listener is not None:
                self._lose_all(self._listener)
            if mode == "cut":
                if self._listener is not None:
                    self._listener.close()
                    self._listener = None
            elif self._listener is None:
                self._listener = self._listen(self.port)
        if mode in ("cut", "lose"):
            # Connections without a request on them are ended also when others are lost: a browser would ask on each of
            # them in turn, and wait every time.
            self._end_all()

    def _lose_all(self, listener: socket.socket) -> None:
        """What is open, or waits to be taken, stays open and silent for ever."""
        while select.select([listener], [], [], 0)[0]:
            self._open.add(listener.accept()[0])
        self._lost |= self._open

    def _listen(self, port: int) -> socket.socket:
        made = socket.socket()
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind(("127.0.0.1", port))
        made.listen(64)
        return made

    def _end_all(self) -> None:
        with self._lock:
            ending, self._open = self._open, set()
        for one in ending:
            with contextlib.suppress(OSError):
                one.shutdown(socket.SHUT_RDWR)
            one.close()

    def _accept(self) -> None:
        while not self._closed.is_set():
            listener = self._listener
            try:
                if self._mode != "pass" or listener is None or not select.select([listener], [], [], TICK_S)[0]:
                    self._closed.wait(TICK_S)
                    continue
                near, _ = listener.accept()
            except (OSError, ValueError):
                continue
            try:
                far = socket.create_connection(("127.0.0.1", self._target), timeout=5)
            except OSError:
                near.close()
                continue
            far.settimeout(None)
            with self._lock:
                self._open |= {near, far}
            threading.Thread(target=self._pump, args=(near, far), daemon=True).start()

    def _pump(self, near: socket.socket, far: socket.socket) -> None:
        with contextlib.suppress(OSError, ValueError):
            while not self._closed.is_set():
                if self._mode in HELD or near in self._lost:
                    self._closed.wait(TICK_S)
                    continue
                for ready in select.select([near, far], [], [], TICK_S)[0]:
                    data = ready.recv(65536)
                    if not data:
                        raise OSError
                    if self._mode in HELD:
                        # It came while the link was failing: it waits, too.
                        self._hold()
                    if near in self._lost:
                        break
                    (far if ready is near else near).sendall(data)
        for one in (near, far):
            one.close()
        with self._lock:
            self._open -= {near, far}

    def _hold(self) -> None:
        while self._mode in HELD and not self._closed.is_set():
            self._closed.wait(TICK_S)
