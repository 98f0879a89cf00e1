from .notebook.compared_springs import ComparedSprings, compare_springs
from .notebook.invented_fleet import InventedFleet, simulate
from .notebook.plan_steps import decide, describe, fit, judge
from .notebook.planned import Plan, plan
from .notebook.rating_fit import RatingFit, fit_rating_model
from .notebook.read_log import ReadLog, read
from .notebook.tried_predictions import TriedPredictions, backtest
from .schemas.errors import DraincurveError

__all__ = [
    "ComparedSprings",
    "DraincurveError",
    "InventedFleet",
    "Plan",
    "RatingFit",
    "ReadLog",
    "TriedPredictions",
    "backtest",
    "compare_springs",
    "decide",
    "describe",
    "fit",
    "fit_rating_model",
    "judge",
    "plan",
    "read",
    "simulate",
]
