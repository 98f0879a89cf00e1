"""The second step: what each unit runs now, and the rated drains of each channel with their covariates.

The way of an accepted drain, rated 2 to 3 at 12.5 h:

    rated_drains.py       one observation of its channel: lowest and highest level, log hours, design row, unit
    covariates.py         which covariates the design has, and which are left out because they are confounded
    fill_conditions.py    what they need: run-in of the spring, old oil left behind, settling time

and of the unit that it came from:

    fleet_state.py        what runs in the unit now, its last drain and its limits

`described.py` is the step itself, with its result.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
