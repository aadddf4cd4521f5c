"""Answers that were reckoned once, in files: `<uid>/<input hash>.json`, the last two of each machine.

All of it can be made again, so whatever cannot be read counts as not there.
"""

from __future__ import annotations

import hashlib
import os
import re
import threading
from pathlib import Path
from typing import NamedTuple

import msgspec

from wreckwright.acts.reckon_shapes import Answers
from wreckwright.store.whole_file import write_whole

KEPT = 2
_FOLDER_NAME = re.compile(r"[0-9A-Za-z][0-9A-Za-z_-]{0,63}", re.ASCII)
_FILE_NAME = re.compile(r"[0-9a-f]{64}\.json", re.ASCII)


class _Mark(NamedTuple):
    """By which a file is known to be the one that was read."""

    changed_ns: int
    inode: int


def _mark(about: os.stat_result) -> _Mark:
    return _Mark(about.st_mtime_ns, about.st_ino)


class AnswerCache:
    """Files below one folder, and the answers read from them last."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self._read: dict[Path, tuple[_Mark, Answers]] = {}
        self._lock = threading.Lock()

    def kept(self, uid: str) -> tuple[Answers, ...]:
        """The answers kept for a machine, latest first."""
        found = []
        for mark, path in self._files(uid):
            answers = self._answers(path, mark)
            if answers is not None:
                found.append(answers)
        return tuple(found)

    def keep(self, uid: str, answers: bytes, *, input_hash: str) -> None:
        """Keep answers (as JSON) as the latest, whole or not at all, and let go of all but the last two.

        Raises OSError when the disk does not take them.
        """
        folder = self._of(uid)
        folder.mkdir(parents=True, exist_ok=True)
        target = folder / f"{input_hash}.json"
        write_whole(target, answers, durable=False)
        self._make_latest(uid, target)
        for _, path in self._files(uid)[KEPT:]:
            path.unlink(missing_ok=True)

    def use_again(self, uid: str, input_hash: str) -> bool:
        """Whether answers with this name are kept; if so they count as the latest from now on."""
        target = self._of(uid) / f"{input_hash}.json"
        files = self._files(uid)
        if not any(path == target and self._answers(path, mark) is not None for mark, path in files):
            return False
        if files[0][1] != target:
            self._make_latest(uid, target)
        return True

    def _make_latest(self, uid: str, target: Path) -> None:
        # Clocks of file systems are coarse: two files written one after the other may bear the same time.
        others = [mark.changed_ns for mark, path in self._files(uid) if path != target]
        try:
            changed_ns = max([target.stat().st_mtime_ns, *(other + 1_000_000 for other in others)])
            os.utime(target, ns=(changed_ns, changed_ns))
        except FileNotFoundError:
            return

    def _of(self, uid: str) -> Path:
        # An identity that came with a record file may be any text; no text leads out of the folder.
        plain = _FOLDER_NAME.fullmatch(uid) is not None
        return self._folder / (uid if plain else f"~{hashlib.sha256(uid.encode()).hexdigest()[:32]}")

    def _files(self, uid: str) -> list[tuple[_Mark, Path]]:
        """Latest first."""
        try:
            paths = [Path(entry.path) for entry in os.scandir(self._of(uid)) if _FILE_NAME.fullmatch(entry.name)]
            found = [(_mark(path.stat()), path) for path in paths]
        except OSError:
            return []
        return sorted(found, key=lambda pair: (-pair[0].changed_ns, pair[1].name))

    def _answers(self, path: Path, mark: _Mark) -> Answers | None:
        with self._lock:
            known = self._read.get(path)
        if known is not None and known[0] == mark:
            return known[1]
        try:
            answers = msgspec.json.decode(path.read_bytes(), type=Answers)
        except (OSError, msgspec.DecodeError, ValueError):
            return None
        if answers.input_hash != path.stem:
            return None
        with self._lock:
            self._read[path] = (mark, answers)
            for old in [one for one in self._read if one.parent == path.parent and not one.exists()]:
                del self._read[old]
        return answers
