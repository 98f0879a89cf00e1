"""One run at a time: a lock (flock) that the kernel releases when its holder dies, so that none is stale."""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from draincurve.schemas.errors import DraincurveError

LOCK = ".lock"
_LONGEST_NOTE = 200


class LockedError(DraincurveError):
    """Another run holds the lock."""


@contextmanager
def one_at_a_time(folder: Path, note: str) -> Iterator[None]:
    """Hold the lock of a folder while the block runs.

    note : describes the holder, for the error of another run. Raises LockedError where a live process holds the lock,
    OSError where the lock file cannot be created.
    """
    folder.mkdir(parents=True, exist_ok=True)
    handle = os.open(folder / LOCK, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
    try:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as fault:
            holder = os.read(handle, _LONGEST_NOTE).decode("utf-8", "replace").strip() or "not named yet"
            raise LockedError(
                f"{folder}: another run is at work there ({holder}); wait until it is done, or end it"
            ) from fault
        os.ftruncate(handle, 0)
        os.pwrite(handle, note.encode()[:_LONGEST_NOTE], 0)
        yield
    finally:
        os.close(handle)
