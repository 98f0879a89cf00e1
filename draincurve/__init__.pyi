from .notebook.compared_springs import ComparedSprings as ComparedSprings
from .notebook.compared_springs import compare_springs as compare_springs
from .notebook.invented_fleet import InventedFleet as InventedFleet
from .notebook.invented_fleet import simulate as simulate
from .notebook.plan_steps import decide as decide
from .notebook.plan_steps import describe as describe
from .notebook.plan_steps import fit as fit
from .notebook.plan_steps import judge as judge
from .notebook.planned import Plan as Plan
from .notebook.planned import plan as plan
from .notebook.rating_fit import RatingFit as RatingFit
from .notebook.rating_fit import fit_rating_model as fit_rating_model
from .notebook.read_log import ReadLog as ReadLog
from .notebook.read_log import read as read
from .notebook.tried_predictions import TriedPredictions as TriedPredictions
from .notebook.tried_predictions import backtest as backtest
from .schemas.errors import DraincurveError as DraincurveError

__version__: str
__all__ = [
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
