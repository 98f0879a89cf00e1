"""One writer at a time in a folder, by the kernel's lock on the folder itself: nothing is left behind."""

from __future__ import annotations

import fcntl
import os
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from draincurve.log_entry.drain_entry import EntryError

LONGEST_WAIT_S = 60.0
_LOOK_AGAIN_S = 0.02
_TURN_OF_OTHERS_S = 4 * _LOOK_AGAIN_S
"""Pause after the lock is free, so that a writer of many entries cannot starve one that looks now and then."""


@contextmanager
def locked_folder(folder: Path, longest_wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Holds the folder while the block runs; waits for another writer, and loses nothing when a holder is killed.

    Raises EntryError where another writer holds it all the time, OSError for a folder that is not there.
    """
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _wait(handle, folder, time.monotonic() + longest_wait_s)
        yield
    finally:
        os.close(handle)
        time.sleep(_TURN_OF_OTHERS_S)


def _wait(handle: int, folder: Path, until: float) -> None:
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError as fault:
            if time.monotonic() > until:
                raise EntryError(f"{folder}: another entry is being written all the time; try again later") from fault
        time.sleep(_LOOK_AGAIN_S)
