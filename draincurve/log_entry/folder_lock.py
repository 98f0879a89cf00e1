"""One writer at a time in a folder: a lock (flock) on the folder itself, which leaves no file."""

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
"""Pause after a lock is released, so that a writer of many entries does not starve one that polls."""


@contextmanager
def locked_folder(folder: Path, longest_wait_s: float = LONGEST_WAIT_S) -> Iterator[None]:
    """Lock the folder while the block runs; the kernel releases the lock when its holder is killed.

    Raises EntryError where another writer holds it for longer than the wait, OSError for a missing folder.
    """
    handle = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        _wait(handle, folder, until=time.monotonic() + longest_wait_s)
        yield
    finally:
        os.close(handle)
        time.sleep(_TURN_OF_OTHERS_S)


def _wait(handle: int, folder: Path, *, until: float) -> None:
    while True:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return
        except BlockingIOError as fault:
            if time.monotonic() > until:
                raise EntryError(f"{folder}: another entry is being written all the time; try again later") from fault
        time.sleep(_LOOK_AGAIN_S)
