#!/usr/bin/env python3
"""Set everything up and start it, with nothing but Python 3.11 and its standard library.

    python3 run.py demo                   three invented machines in the browser (further words: `demo --help`)
    python3 run.py test                   lint, types and all tests (further words go to pytest)
    python3 run.py wreckwright ARGS...    the command line, in the environment made here

Everything goes into two folders beside this file, `.venv` and `.boot`; delete them and it starts afresh.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import TextIO

ROOT = Path(__file__).resolve().parent
BOOT = ROOT / ".boot"
VENV = ROOT / ".venv"
PYTHON = VENV / ("Scripts/python.exe" if os.name == "nt" else "bin/python")
UV_PIN = "uv==0.13.9"
OLDEST = (3, 11)

REQUIREMENTS = {"runtime": ("requirements.txt",), "test": ("requirements.txt", "requirements-test.txt")}
"""What each level installs; a level's stamp holds a hash of these files."""

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
"""Commands of a Chromium that the browser tests can drive, the first one found."""
BROWSER_VARIABLE = "WRECKWRIGHT_CHROMIUM"
"""Environment variable in which the browser tests look for it."""
BROWSER_PACKAGES = ("chromium", "fonts-dejavu-core")
"""Debian's names: the browser, and letters to draw with (a bare system has none)."""

TEST_STEPS = (
    ("lint", ("-m", "ruff", "check", ".")),
    ("types", ("-m", "mypy")),
    ("tests", ("-m", "pytest", "-n", "auto", "--maxprocesses=4", "--dist=loadfile", "--cov", "--cov-report=term")),
)


class CannotSetUp(Exception):
    """The environment could not be made; the text says why and what to do."""


class ToolFailed(Exception):
    """One way of making the environment failed; the text is what the tool said."""


def say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def clean_environ() -> dict[str, str]:
    """Without what would let packages from elsewhere leak in."""
    drop = {"PYTHONPATH", "PYTHONHOME", "VIRTUAL_ENV", "CONDA_PREFIX", "PIP_TARGET", "PIP_USER"}
    return {name: value for name, value in os.environ.items() if name not in drop}


def call_tool(*command: str | Path, more_environ: dict[str, str] | None = None) -> str:
    try:
        done = subprocess.run(
            [str(word) for word in command],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            errors="replace",
            env=clean_environ() | (more_environ or {}),
            cwd=ROOT,
        )
    except OSError as error:
        raise ToolFailed(f"{command[0]}: {error.strerror or error}") from error
    if done.returncode:
        lines = [line.strip() for line in done.stdout.splitlines()]
        last = [line for line in lines if line and not line.startswith("WARNING:")][-4:]
        raise ToolFailed("\n".join(last) or f"{command[0]} ended with code {done.returncode}")
    return done.stdout


def find_uv() -> Path:
    """An installed uv, or one put into `.boot` (Debian's pip may only install into a folder of its own)."""
    found = shutil.which("uv")
    if found:
        return Path(found)
    uv = BOOT / "bin" / ("uv.exe" if os.name == "nt" else "uv")
    if not uv.exists():
        shutil.rmtree(BOOT, ignore_errors=True)
        call_tool(
            sys.executable,
            "-m",
            "pip",
            "install",
            "--quiet",
            "--disable-pip-version-check",
            "--no-input",
            "--retries",
            "2",
            "--target",
            BOOT,
            UV_PIN,
        )
    return uv


def works(python: Path) -> bool:
    try:
        return subprocess.run([str(python), "-c", "pass"], env=clean_environ(), capture_output=True).returncode == 0
    except OSError:
        return False


def install_with_uv(requirements: Path) -> None:
    uv = find_uv()
    if not works(PYTHON):
        shutil.rmtree(VENV, ignore_errors=True)
        call_tool(uv, "venv", "--quiet", "--no-project", "--python", sys.executable, VENV)
    # Without --python, uv started from elsewhere may install into the interpreter it was found with.
    command = (uv, "pip", "install", "--quiet", "--python", PYTHON, "-r", requirements)
    try:
        call_tool(*command)
    except ToolFailed as failure:
        if "certificate" not in str(failure):
            raise
        # A network with a certificate of its own: the system knows it, and uv asks the system only if it is told to.
        call_tool(*command, more_environ={"UV_SYSTEM_CERTS": "true", "UV_NATIVE_TLS": "true"})


def install_with_venv(requirements: Path) -> None:
    if not works(PYTHON) or not (PYTHON.parent / PYTHON.name.replace("python", "pip")).exists():
        shutil.rmtree(VENV, ignore_errors=True)
        call_tool(sys.executable, "-m", "venv", VENV)
    call_tool(
        PYTHON,
        "-m",
        "pip",
        "install",
        "--quiet",
        "--disable-pip-version-check",
        "--no-input",
        "--retries",
        "2",
        "-r",
        requirements,
    )


def install(requirements: Path) -> None:
    said = []
    for name, way in (("uv", install_with_uv), ("venv and pip", install_with_venv)):
        try:
            way(requirements)
            return
        except ToolFailed as failure:
            said.append(f"With {name}:\n" + "\n".join("    " + line for line in str(failure).splitlines()))
    raise CannotSetUp(
        f"The packages listed in {requirements.name} could not be installed. Most often there is no network.\n"
        "Needed, once: a connection to the Python package index, or a mirror that pip knows of; and pip or the venv\n"
        "module (on Debian: apt-get install python3-pip python3-venv). Once set up, no network is used.\n"
        "Mend that and run the same command again. What the tools said last:\n" + "\n".join(said)
    )


def stamp_of(level: str) -> str:
    digest = hashlib.sha256(f"{ROOT}\0{level}".encode())
    for name in REQUIREMENTS[level]:
        digest.update((ROOT / name).read_bytes())
    return digest.hexdigest()


def set_up(level: str) -> None:
    """Make or mend `.venv` for `level`, unless its stamp says that nothing has changed."""
    stamp = VENV / f"{level}.stamp"
    wanted = stamp_of(level)
    if PYTHON.exists() and stamp.exists() and stamp.read_text() == wanted:
        return
    began = time.monotonic()
    say(f"Setting up {VENV} (only the first time and after changes; needs the network) ...")
    stamp.unlink(missing_ok=True)
    install(ROOT / REQUIREMENTS[level][-1])
    # A path file instead of an installed package: works offline and follows the sources.
    site = Path(call_tool(PYTHON, "-c", "import sysconfig; print(sysconfig.get_path('purelib'))").strip())
    (site / "wreckwright-sources.pth").write_text(f"{ROOT / 'src'}\n", encoding="utf-8")
    stamp.write_text(wanted)
    say(f"Ready after {time.monotonic() - began:.0f} s.")


def start(*words: str, cwd: Path | None = None) -> int:
    # -P: a file in the current folder must not stand in for a package.
    return subprocess.run([str(PYTHON), "-P", *words], env=clean_environ(), cwd=cwd).returncode


def become(*words: str) -> int:
    """Run the program in place of this process, so that Ctrl-C and other signals reach it and nothing else."""
    if os.name == "nt":
        return start(*words)
    sys.stdout.flush()
    sys.stderr.flush()
    os.execve(PYTHON, [str(PYTHON), "-P", *words], clean_environ())


def find_browser() -> str | None:
    named = os.environ.get(BROWSER_VARIABLE)
    return shutil.which(named) if named else next(filter(None, map(shutil.which, BROWSERS)), None)


def may_install_browser() -> bool:
    """Only where it needs no question and no password: root, on a system that has apt-get."""
    is_root = hasattr(os, "geteuid") and os.geteuid() == 0
    return is_root and Path("/etc/debian_version").exists() and shutil.which("apt-get") is not None


def install_browser() -> None:
    say(f"No Chromium for the browser tests; installing {' '.join(BROWSER_PACKAGES)} with apt-get (only once) ...")
    apt = ("env", "DEBIAN_FRONTEND=noninteractive", "apt-get", "-q", "-o", "DPkg::Lock::Timeout=120")
    try:
        call_tool(*apt, "update")
        call_tool(*apt, "install", "--yes", "--no-install-recommends", *BROWSER_PACKAGES)
    except ToolFailed as failure:
        say("That did not work; apt-get said:\n" + "\n".join("    " + line for line in str(failure).splitlines()))


def make_sure_of_browser() -> None:
    """Chromium for the browser tests: found, or installed, or told how to come by it. Never a reason to stop here."""
    if not find_browser() and not os.environ.get(BROWSER_VARIABLE) and may_install_browser():
        install_browser()
    browser = find_browser()
    if browser:
        os.environ[BROWSER_VARIABLE] = browser
        return
    say(
        "There is no Chromium, so the browser tests cannot run: they are skipped, or fail where CI=true is set.\n"
        f"Needed: one of the commands {', '.join(BROWSERS)}, or the path of one in {BROWSER_VARIABLE}.\n"
        f"On Debian, as root: apt-get update && apt-get install --no-install-recommends {' '.join(BROWSER_PACKAGES)}"
    )


def demo(words: list[str]) -> int:
    set_up("runtime")
    return become("-m", "wreckwright.cli", "demo", *words)


def test(words: list[str]) -> int:
    """All three steps run, also after a failure, pytest last; 1 if any failed."""
    set_up("test")
    make_sure_of_browser()
    failed = []
    for name, command in TEST_STEPS:
        say(f"--- {name}: {' '.join(command[1:])}")
        extra = words if name == "tests" else []
        if start(*command, *extra, cwd=ROOT):
            failed.append(name)
    say(f"Failed: {', '.join(failed)}." if failed else "All passed: " + ", ".join(name for name, _ in TEST_STEPS) + ".")
    return 1 if failed else 0


def wreckwright(words: list[str]) -> int:
    set_up("runtime")
    return become("-m", "wreckwright.cli", *words)


COMMANDS: dict[str, Callable[[list[str]], int]] = {"demo": demo, "test": test, "wreckwright": wreckwright}


def tell_usage(stream: TextIO) -> None:
    try:
        print((__doc__ or "").strip(), file=stream, flush=True)
    except BrokenPipeError:
        # Nobody reads any more; the interpreter flushes once again at its end and needs somewhere to do it.
        os.dup2(os.open(os.devnull, os.O_WRONLY), stream.fileno())


def main(argv: list[str]) -> int:
    if sys.version_info < OLDEST:
        found = ".".join(str(number) for number in sys.version_info[:3])
        say(f"This is Python {found}; wreckwright needs {OLDEST[0]}.{OLDEST[1]} or newer. Use a newer python3.")
        return 1
    if not argv or argv[0] not in COMMANDS:
        asked = bool(argv) and argv[0] in ("-h", "--help", "help")
        if argv and not asked:
            say(f"There is no command '{argv[0]}'; there are {', '.join(COMMANDS)}.\n")
        tell_usage(sys.stdout if asked else sys.stderr)
        return 0 if asked else 2
    try:
        return COMMANDS[argv[0]](argv[1:])
    except CannotSetUp as error:
        say(str(error))
    except ToolFailed as error:
        say(f"The environment in {VENV} does not work:\n{error}\nDelete that folder and run the same command again.")
    except OSError as error:
        say(
            f"{error.filename or ROOT}: {error.strerror or error}.\n"
            "This folder must be readable and writable; mend that and run the same command again."
        )
    except KeyboardInterrupt:
        say("Interrupted.")
        return 130
    return 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
