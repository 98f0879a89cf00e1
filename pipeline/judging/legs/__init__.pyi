from .leg_comparison import ALIKE as ALIKE
from .leg_comparison import BY_FUNCTION as BY_FUNCTION
from .leg_comparison import DIFFERS as DIFFERS
from .leg_comparison import LegResult as LegResult
from .leg_swaps import PossibleSwap as PossibleSwap
