"""How earlier predictions would have held: refit as of past dates, predict the drains that followed, score them.

`rolling_origin` runs it over the `forecast_windows`. `model_predictions` are compared with `baseline_predictions` and
`boosted_trees` by `proper_scores` (`score_comparison`); `risk_calibration` and `interval_coverage` check the risks
and ranges. `channel_backtest` holds the result and `backtest_verdicts` puts it in words. `measured_backtest` does the
same for measured quantities by `measured_predictions`; `quantity_backtest` holds its result, with its words.
`log_backtest` runs both.
"""

from __future__ import annotations

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
