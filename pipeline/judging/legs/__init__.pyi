from .leg_comparison import BY_FUNCTION as BY_FUNCTION
from .leg_comparison import DIFFERS as DIFFERS
from .leg_comparison import LIKE_OTHER_PAIRS as LIKE_OTHER_PAIRS
from .leg_comparison import LegResult as LegResult
from .leg_swaps import PossibleSwap as PossibleSwap
