"""Random numbers by purpose: each use has its own stream, so that another use changes no other result."""

from __future__ import annotations

import numpy as np


def stream(seed: int, purpose: str) -> np.random.Generator:
    """A fresh generator, the same for the same seed and purpose."""
    return np.random.default_rng([seed, *purpose.encode()])
