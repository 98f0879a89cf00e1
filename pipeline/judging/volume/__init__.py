"""The balance of oil filled and drained, unit by unit.

`carry_over_model` estimates each unit's level and its noise, given what stays behind at a drain; `missing_oil` and
`level_shifts` find drains and units off their level, and `volume_balance` runs them. `unit_balance` holds the result
and `volume_sentences` puts it in words.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
