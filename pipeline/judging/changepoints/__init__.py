"""Changepoint detection: which units turned, that is, were ordinary at first and then changed.

`monitored_drains` turns each rating into a normal score, given the unit's earlier drains (`predictive_probabilities`
and, under the logit link, `logit_predictive_probabilities`), and sums the scores (`cusum`). `alarm_threshold` finds
the threshold by simulating logs without any change, and `unit_changepoints` finds which units exceed it, and since
when.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
