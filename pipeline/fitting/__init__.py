"""The third step: the rating model of each channel, an ordinal regression on log hours with unit effects.

The way of a channel's rated drains:

    channel_fit.py          fits the channel, and draws from the posterior
    rating_model.py         finds the posterior mode: Newton's method (newton.py) on objective.py, the log posterior
    likelihood.py           the likelihood, with unit effects integrated out by adaptive quadrature (quadrature/)
    posterior/              importance resampling around the mode
    unit_effects/           draws of the units' effects
    joint/                  two channels joined: how far their ratings agree, and unit effects drawn together
    unit_thresholds.py      each unit's threshold for its limit under each draw, from which its risk is computed

`fitted.py` is the step itself, with its result. `degradation/` fits lines to measured quantities, `engine/` runs a
large fleet's sums on workers.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
