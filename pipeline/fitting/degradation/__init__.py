"""Linear mixed model of a measured quantity (play, free length, iron) over its clock, with unit effects.

`sums_of_units` reduces the readings to a few sums for each unit; `profile_likelihood` gives the (restricted)
likelihood and its gradient from them. `linear_mixed_model` maximises it (ML or REML), and `line_posterior` draws from
the posterior of the standard deviations and gives every unit's line with its whole uncertainty. `censored_lines` does
both where some readings are only known to be under or over a bound.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
