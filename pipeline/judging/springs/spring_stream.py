"""Random numbers of the spring comparison: a stream of its own, so that it answers the same by itself."""

from __future__ import annotations

import numpy as np

from schemas.settings import Settings

_STREAM = 0x5B1  # any number that no other stream of the program starts with


def spring_stream(settings: Settings) -> np.random.Generator:
    """A fresh generator, the same for the same seed."""
    return np.random.default_rng([_STREAM, settings.seed])
