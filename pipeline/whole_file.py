"""A file written whole or not at all: beside its place first, synced, then moved in."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PART = ".part"
"""Ending of a file that is not in its place yet; after a kill it may be left behind, and is no harm."""


def write_whole(path: Path, content: bytes, mode: int) -> None:
    """Puts `content` where `path` is, in one instant; a reader sees the old file or the new one.

    mode : rights of the file, such as 0o644. Raises OSError, and then the old file is as it was.
    """
    with staged_file(path, content, mode):
        pass


@contextmanager
def staged_file(path: Path, content: bytes, mode: int) -> Iterator[Path]:
    """The new file beside its place, to be looked at; when the block ends without an error it takes its place.

    A link is followed, so that it stays a link. On an error the old file is as it was.
    """
    place = path.resolve()
    handle, name = tempfile.mkstemp(prefix=part_prefix(place), suffix=PART, dir=place.parent)
    staged = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
        yield staged
        staged.replace(place)
    except BaseException:
        with suppress(OSError):
            staged.unlink()
        raise
    _sync_folder(place.parent)


def part_prefix(place: Path) -> str:
    """How the name of a file that is not in its place yet begins."""
    return f".{place.name[:40]}-"


def _sync_folder(folder: Path) -> None:
    """Makes the names in a folder last through a loss of power, where the file system can."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
