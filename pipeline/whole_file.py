"""A file written whole or not at all: beside its place first, synced, then moved in."""

from __future__ import annotations

import os
import tempfile
from contextlib import suppress
from pathlib import Path


def write_whole(path: Path, content: bytes, mode: int) -> None:
    """Puts `content` where `path` is, in one instant; a reader sees the old file or the new one.

    mode : rights of the file, such as 0o644. A link is followed, so that it stays a link. Raises OSError, and then
    the old file is as it was.
    """
    place = path.resolve()
    handle, name = tempfile.mkstemp(prefix=f".{place.name[:40]}-", suffix=".part", dir=place.parent)
    staged = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
        staged.replace(place)
    except BaseException:
        with suppress(OSError):
            staged.unlink()
        raise
    sync_folder(place.parent)


def sync_folder(folder: Path) -> None:
    """Makes the names in a folder last through a loss of power, where the file system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
