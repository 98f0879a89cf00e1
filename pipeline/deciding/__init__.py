"""The fifth step: from posterior draws to each unit's interval and due date.

The way to the due date of a unit:

    unit_scoring.py       risk, interval and standing of each unit, where there are many in blocks (unit_blocks.py)
    unit_risk.py          each channel's risk against hours
    oil_curves.py         the oil's risk by them, and the hours at the accepted risk
    intervals.py          the shorter of the oil's hours and the caps, rounded down (caps.py)
    hours_on_oil.py       hours on the oil now, so that hours are left or overrun
    riding_history.py     the whole weeks each unit was ridden, with the season of its site (riding_season.py)
    simulated_riding.py   coming riding drawn from them, and the day on which the hours left run out
    due_dates.py          hours left as a date: bookings first, then riding, and never past the oil's age
    next_service.py       the row of next_service.csv

`booked_rides.py` says which changes the bookings need after the next. `decided.py` is the step itself, with its
result. `wear.py` does the same for measured quantities, `forecast.py` looks weeks ahead, `next_samples.py` finds the
drains that would teach the model most.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
