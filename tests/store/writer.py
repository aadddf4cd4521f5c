"""A program of its own that writes taps, one after the other, and says which have been acknowledged.

    python writer.py DATABASE COUNT SHARED STREAM:START [STREAM:START ...]

Each stream is a device: a thread that sends its operations START .. COUNT-1 in order. A write makes a tap and drives
the odometer on by one, so one that counted twice would show. With SHARED = 1 all streams write to one machine.
"""

from __future__ import annotations

import os
import sys
import threading
import time
from pathlib import Path

from tests.store.stores import NOON, key, obeys_rules
from wreckwright.store.apply import apply
from wreckwright.store.engine import Store, open_store
from wreckwright.store.read import Reader
from wreckwright.store.types import Draft, Operation, Outcome, Put

PER_MACHINE = 50
ANSWER_LATE_S = 0.003
"""Between the commit and the word of it, so that some are killed just there."""


def send(store: Store, stream: str, number: int, *, shared: bool) -> Outcome:
    uid = "shared" if shared else f"{stream}-{number // PER_MACHINE}"

    def draft(reader: Reader) -> Draft:
        now = reader.row(key("machine", uid=uid))
        name = {"nickname": uid, "machine_class": "tourer", "year": 2019}
        driven = now.fields.get("odometer", 0) if now else 0
        handle = reader.next_handle(uid, "taps")
        return Draft(
            what=f"{stream}-{number}",
            writes=(
                Put(
                    key=key("machine", uid=uid),
                    fields={**name, "odometer": driven + 1},
                    base_rev=now.rev if now else 0,
                ),
                Put(key=key(handle, "taps", uid), fields={"what": "snag", "note": f"{stream}-{number}"}, base_rev=0),
            ),
            result={"handle": handle, "uid": uid},
        )

    return apply(
        store,
        who=stream,
        at=NOON,
        draft=draft,
        check=obeys_rules,
        operation=Operation(device=stream, op=f"{stream}-{number}", body_hash=f"{stream}-{number}"),
    )


def run(store: Store, stream: str, start: int, count: int, *, shared: bool) -> None:
    for number in range(start, count):
        outcome = send(store, stream, number, shared=shared)
        time.sleep(ANSWER_LATE_S)
        word = f"{stream} {number} {outcome.change_id} {outcome.result['handle']} {outcome.replayed:d}\n"
        os.write(1, word.encode())


def main(path: str, count: str, shared: str, *streams: str) -> None:
    store = open_store(Path(path), create=False)
    threads = []
    for one in streams:
        stream, start = one.split(":")
        threads.append(
            threading.Thread(target=run, args=(store, stream, int(start), int(count)), kwargs={"shared": shared == "1"})
        )
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()


if __name__ == "__main__":
    main(*sys.argv[1:])
