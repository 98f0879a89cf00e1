from .censored_lines import fit_censored as fit_censored
from .line_posterior import UnitLines as UnitLines
from .line_posterior import unit_lines as unit_lines
from .linear_mixed_model import DegradationFit as DegradationFit
from .linear_mixed_model import check_sums as check_sums
from .linear_mixed_model import fit_degradation as fit_degradation
from .sums_of_units import unit_sums as unit_sums
