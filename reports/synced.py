"""Files and folders made to last: what was written is on the disk before anything leads to it."""

from __future__ import annotations

import os
from pathlib import Path


def sync_tree(folder: Path) -> None:
    """Writes every file below a folder, and the folders themselves, through to the disk."""
    for place, _, names in os.walk(folder):
        for name in names:
            sync(Path(place) / name)
        sync(Path(place))


def sync(path: Path) -> None:
    """Writes a file, or the entries of a folder, through to the disk."""
    handle = os.open(path, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
