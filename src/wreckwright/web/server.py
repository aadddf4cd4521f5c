"""Start and stop the workbench: find a port, say where it is, end without a trace."""

from __future__ import annotations

import contextlib
import errno
import signal
import socket
import threading
import webbrowser
from collections.abc import Callable, Iterator
from types import FrameType

import uvicorn
from starlette.applications import Starlette

from wreckwright.acts.orphans import sweep_photographs
from wreckwright.acts.place import Place
from wreckwright.acts.reckon import Reckoner
from wreckwright.errors import UsageError, WreckwrightError
from wreckwright.web.app import create_app
from wreckwright.web.security import LOOPBACK, new_pairing_key

PORT = 8642
"""Always the same, if it is free: what a telephone keeps, it keeps for one address and port."""
PORTS_TRIED = 20
STOP_S = 3
EVERYWHERE = "0.0.0.0"


def serve(
    place: Place,
    *,
    host: str = "127.0.0.1",
    port: int | None = None,
    open_browser: bool = False,
    pairing: bool = False,
    tell: Callable[[str], None] = print,
) -> None:
    """Run the workbench until it is interrupted.

    `port` None: the usual one, else the next that is free; 0: any. With `pairing` it is bound to all addresses of this
    computer and lets in only devices that open the link with the key; `tell` is given every line to show.

    Raises UsageError when it cannot be bound, StoreError when the memory cannot be opened.
    """
    bound = listen(EVERYWHERE if pairing else host, port)
    reckoner = None
    try:
        key = new_pairing_key() if pairing else None
        chosen = bound.getsockname()[1]
        reckoner = Reckoner(place)
        app = create_app(place, reckoner=reckoner, pairing_key=key, hosts=(*LOOPBACK, host, *own_names()), tell=tell)
        lines = greeting(chosen, host=host, pairing_key=key)
        if port is None and chosen != PORT:
            lines.append(f"Port {PORT} is taken; what a telephone still keeps for it waits until it is free again.")
        for line in lines:
            tell(line)
        threading.Thread(target=_tidy, args=(place,), daemon=True).start()
        if open_browser:
            # In a thread: some browsers started this way keep the caller waiting.
            threading.Thread(target=webbrowser.open, args=(address(host, chosen, key),), daemon=True).start()
        run(app, bound)
    finally:
        bound.close()
        if reckoner is not None:
            reckoner.close()
    tell("The workbench is closed; all that was told it is kept.")


def _tidy(place: Place) -> None:
    # Nobody waits for it, and another start will do as well.
    with contextlib.suppress(WreckwrightError, OSError):
        sweep_photographs(place)


def run(app: Starlette, bound: socket.socket) -> None:
    """Serve `app` on a bound socket until interrupted; answers that are under way get a few seconds to end."""
    config = uvicorn.Config(
        app,
        log_config=None,
        access_log=False,
        server_header=False,
        lifespan="off",
        timeout_keep_alive=30,
        timeout_graceful_shutdown=STOP_S,
    )
    # The server raises the signal again once it has stopped in good order; that is the end, not an error.
    with contextlib.suppress(KeyboardInterrupt), _told_to_end_is_ctrl_c():
        uvicorn.Server(config).run(sockets=[bound])


@contextlib.contextmanager
def _told_to_end_is_ctrl_c() -> Iterator[None]:
    """SIGTERM ends the workbench as Ctrl-C does, with the reckoning under way put away."""

    def interrupt(number: int, frame: FrameType | None) -> None:
        raise KeyboardInterrupt

    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGTERM, interrupt)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)


def listen(host: str, port: int | None) -> socket.socket:
    """A socket bound to `host`. Raises UsageError.

    >>> with listen("127.0.0.1", 0) as one:
    ...     one.getsockname()[1] > 0
    True
    """
    wanted = [*range(PORT, PORT + PORTS_TRIED), 0] if port is None else [port]
    for number in wanted:
        bound = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET, socket.SOCK_STREAM)
        try:
            # A port that was closed a moment ago may be taken again at once.
            bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            bound.bind((host, number))
            # Listening at once makes a second workbench see that the port is taken.
            bound.listen(128)
        except OSError as error:
            bound.close()
            if error.errno in (errno.EADDRINUSE, errno.EACCES) and number != wanted[-1]:
                continue
            raise UsageError(
                f"the workbench cannot be opened at {host}, port {number}: {error.strerror or error}",
                "an address of this computer and a port from 1024 to 65535 that is free",
                "choose another port with --port, or leave it out",
            ) from None
        except OverflowError:
            bound.close()
            raise UsageError(f"port {number} is no port", "1024 to 65535", "choose another one with --port") from None
        return bound
    raise AssertionError("the last port is always tried")


def greeting(port: int, *, host: str, pairing_key: str | None) -> list[str]:
    """What to show when it is open: where, and with pairing the link for a telephone.

    >>> greeting(8642, host="127.0.0.1", pairing_key=None)[0]
    'The workbench is open at http://127.0.0.1:8642/'
    """
    lines = [f"The workbench is open at {address(host, port, pairing_key)}"]
    if pairing_key is not None:
        own = lan_address()
        if own:
            lines.append(f"On a telephone in the same network open  {address(own, port, pairing_key)}")
        else:
            lines.append("This computer is in no network; a telephone cannot reach it yet.")
        lines.append("Whoever opens that link may read and write all machines; the key is a new one at every start.")
        lines.append("The network itself is not encrypted: use it at home, not in a café.")
    lines.append("Ctrl-C closes it.")
    return lines


def address(host: str, port: int, pairing_key: str | None) -> str:
    """
    >>> address("::1", 80, "abc")
    'http://[::1]:80/?pair=abc'
    """
    shown = "127.0.0.1" if host == EVERYWHERE else host
    shown = f"[{shown}]" if ":" in shown else shown
    return f"http://{shown}:{port}/" + (f"?pair={pairing_key}" if pairing_key else "")


def lan_address() -> str:
    """This computer's address in its network, as far as it is in one; else empty. Nothing is sent."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            # An address that is set aside for documentation (RFC 5737): it only makes the system choose a way out.
            probe.connect(("192.0.2.1", 9))
            own = str(probe.getsockname()[0])
        except OSError:
            return ""
    return "" if own.startswith("127.") else own


def own_names() -> tuple[str, ...]:
    """Names under which others in the network may know this computer."""
    name = socket.gethostname().lower()
    return (name, f"{name}.local") if name and "." not in name else (name,)
