from .pair_evidence import PRACTICAL as PRACTICAL
from .spring_comparison import SpringComparison as SpringComparison
from .spring_comparison import SpringPair as SpringPair
from .spring_comparison import compare_log_springs as compare_log_springs
from .spring_verdicts import CANNOT_TELL as CANNOT_TELL
from .spring_verdicts import SHEDS_LESS as SHEDS_LESS
from .spring_verdicts import SHEDS_MORE as SHEDS_MORE
