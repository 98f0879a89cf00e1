"""The fourth step: what the fits show about the fleet, and how far they can be trusted.

    channel_result.py     a channel for the report: risk curves, hours multipliers, diagnostics of the fit
    channel_trust.py      whether it can be trusted: changepoints/ of units, raters/, the choice of the link
    standing.py           each unit against the fleet: hours ratio, faster, slower or with the fleet
    springs/, legs/       springs compared with each other, and the two legs of a machine
    volume/               oil that is missing at drains
    backtest/             earlier predictions compared with what came

`judged.py` is the step itself, with its result. No date depends on this room: the table of next services shows only
standings and changepoints from it.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
