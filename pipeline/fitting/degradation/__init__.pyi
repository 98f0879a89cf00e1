from .fitted_quantity import FittedWear as FittedWear
from .fitted_quantity import WearFit as WearFit
from .fitted_quantity import fit_wear as fit_wear
from .fitted_quantity import fits_of_series as fits_of_series
from .fitted_quantity import rows_to_fit as rows_to_fit
from .line_posterior import UnitLines as UnitLines
from .line_updates import of_columns as of_columns
from .line_updates import with_values as with_values
