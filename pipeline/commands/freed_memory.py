"""Memory of a large log given back to the system as soon as it is free, so that the next stage can have it.

Polars' allocator keeps what it frees for itself, which makes small logs quicker. It reads its settings once, when it
is loaded: so this is called before polars is imported.
"""

from __future__ import annotations

import os
from pathlib import Path

LARGE_FILE_BYTES = 100_000_000

_SETTING = "_RJEM_MALLOC_CONF"
_AT_ONCE = "dirty_decay_ms:0,muzzy_decay_ms:0"


def give_back_at_once_if_large(log: str) -> None:
    """Set the allocator for a log that is a large file; what the caller's environment says of it stands."""
    if _bytes_of(Path(log)) >= LARGE_FILE_BYTES:
        os.environ.setdefault(_SETTING, _AT_ONCE)


def _bytes_of(path: Path) -> int:
    """Size of a file; 0 of anything else, which whoever reads it will say."""
    try:
        return path.stat().st_size if path.is_file() else 0
    except (OSError, ValueError):
        return 0
