"""From a service log to how many hours each suspension unit may run before its oil is no longer fit.

    import draincurve

    log = draincurve.read("log.csv")      # or a pandas, polars or Arrow frame; log.held_back, log.asked
    result = draincurve.plan(log)         # as of today, with the default settings
    result.next_service                   # a pandas frame; polars with frames="polars"
    result.plot.unit("F07")               # matplotlib Axes; also hours_left() and channel("debris")
    result.report("out/")                 # everything that the command `draincurve plan` writes

`read`, `describe`, `fit`, `judge` and `decide` are the steps behind `plan`. `compare_springs` and `backtest` answer
one question each, `simulate` makes an invented fleet to try them on, and `fit_rating_model` is the statistical model
by itself. Whatever cannot be used is a `DraincurveError` that says what to do.

What the functions give has help of its own: `help(draincurve.Plan)`, and ReadLog, SpringComparisons, Backtest,
SimulatedLog, RatingFit.
"""

from __future__ import annotations

from typing import Any

import lazy_loader

_offered, __dir__, _ = lazy_loader.attach_stub(__name__, __file__)

__all__ = [name for name in __dir__() if name.islower()]  # the functions: help and `import *` show no more


def __getattr__(name: str) -> Any:
    if name == "__version__":
        from importlib.metadata import version

        return version(__name__)
    return _offered(name)
