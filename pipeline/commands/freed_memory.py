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
    path = Path(log)
    if path.is_file() and path.stat().st_size >= LARGE_FILE_BYTES:
        os.environ.setdefault(_SETTING, _AT_ONCE)
