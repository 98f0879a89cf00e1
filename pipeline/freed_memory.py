"""Memory of a large log given back to the system as soon as it is free, so that the next stage can have it.

Two allocators keep what is freed for themselves. Polars' own, which makes small logs quicker, reads its settings
once, when it is loaded: so they are set before polars is imported. The C library's, where numpy's arrays lie, is
asked after every stage.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

LARGE_FILE_BYTES = 100_000_000

_SETTING = "_RJEM_MALLOC_CONF"
_AT_ONCE = "dirty_decay_ms:0,muzzy_decay_ms:0"


def give_back_at_once_if_large(log: str) -> None:
    """Set the allocator for a log that is a large file; what the caller's environment says of it stands."""
    if _bytes_of(Path(log)) >= LARGE_FILE_BYTES:
        os.environ.setdefault(_SETTING, _AT_ONCE)


def give_back() -> None:
    """Have the C library give back what is free; nothing where it knows no such call (it is glibc's)."""
    trim = _trim()
    if trim is not None:
        trim(0)


@cache
def _trim() -> Callable[[int], int] | None:
    try:
        return getattr(ctypes.CDLL(None), "malloc_trim", None)
    except (OSError, TypeError):
        return None


def _bytes_of(path: Path) -> int:
    """Size of a file; 0 of anything else, which whoever reads it will say."""
    try:
        return path.stat().st_size if path.is_file() else 0
    except (OSError, ValueError):
        return 0
