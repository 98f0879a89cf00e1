"""Changepoint detection: which units turned, that is, were ordinary at first and then changed.

`monitored_drains` puts the channels of a fleet's drains side by side, and `change_sums` sums up how much more likely
each drain is from a changed unit than from one that has not, given the unit's earlier drains. `alarm_threshold` finds
the threshold by simulating logs without any change, and `unit_changepoints` finds which units exceed it, and since
when.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
