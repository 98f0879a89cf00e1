from .fitted_quantity import FittedWear as FittedWear
from .fitted_quantity import WearFit as WearFit
from .fitted_quantity import fits_of_series as fits_of_series
from .line_posterior import UnitLines as UnitLines
