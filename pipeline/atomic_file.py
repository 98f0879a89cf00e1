"""Atomic replacement of a file: the new one is written beside it, synced, then renamed over it."""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

PART = ".part"
"""Ending of a staged file. One may be left behind after a kill; it does no harm."""


def write_atomically(path: Path, content: bytes, *, mode: int) -> None:
    """Replaces a file in one step: a reader sees the old content or the new, never a part.

    mode : permissions of the file, such as 0o644. Raises OSError; the old file is then unchanged.
    """
    with staged_file(path, content, mode=mode):
        pass


@contextmanager
def staged_file(path: Path, content: bytes, *, mode: int) -> Iterator[Path]:
    """Writes the new file beside the old one for inspection, and replaces the old one when the block ends.

    A link is followed, so that it stays a link. On an error the old file is unchanged.
    """
    target = path.resolve()
    handle, name = tempfile.mkstemp(prefix=part_prefix(target), suffix=PART, dir=target.parent)
    staged = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(content)
            file.flush()
            os.fchmod(file.fileno(), mode)
            os.fsync(file.fileno())
        yield staged
        staged.replace(target)
    except BaseException:
        with suppress(OSError):
            staged.unlink()
        raise
    _sync_folder(target.parent)


def part_prefix(target: Path) -> str:
    """Beginning of the name of a staged file."""
    return f".{target.name[:40]}-"


def _sync_folder(folder: Path) -> None:
    """Makes the folder's entries survive a power failure, where the file system allows it."""
    with suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
