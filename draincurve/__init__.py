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
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
