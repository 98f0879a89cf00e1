"""Returns freed memory to the system after each stage, so that a large log needs less of it.

Two allocators keep freed memory for later use, which makes small logs faster. The allocator of polars reads its
settings once, when polars is imported, so they are set before that. The C library's allocator, which serves numpy,
is told to release after every stage.
"""

from __future__ import annotations

import ctypes
import os
from collections.abc import Callable
from functools import cache
from pathlib import Path

from draincurve.pipeline.processing import EVERY_LOG, LogProcessing

_SETTING = "_RJEM_MALLOC_CONF"
_AT_ONCE = "dirty_decay_ms:0,muzzy_decay_ms:0"


def release_at_once_if_large(log: str, *, processing: LogProcessing = EVERY_LOG) -> None:
    """Sets polars' allocator for a log that is a large file. A setting in the caller's environment is kept."""
    if _bytes_of(Path(log)) >= processing.release_bytes:
        os.environ.setdefault(_SETTING, _AT_ONCE)


def release_free_memory() -> None:
    """Makes the C library return free memory. Does nothing where it is not glibc."""
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
    """Size of a file; 0 for anything else, which its reader will refuse."""
    try:
        return path.stat().st_size if path.is_file() else 0
    except (OSError, ValueError):
        return 0
