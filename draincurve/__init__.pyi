from .notebook.backtests import Backtest as Backtest
from .notebook.backtests import backtest as backtest
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
from .notebook.simulated_log import SimulatedLog as SimulatedLog
from .notebook.simulated_log import simulate as simulate
from .notebook.spring_comparisons import SpringComparisons as SpringComparisons
from .notebook.spring_comparisons import compare_springs as compare_springs
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
