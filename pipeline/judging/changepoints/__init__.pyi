from .unit_changepoints import UnitChangepoints as UnitChangepoints
from .unit_changepoints import turned_column as turned_column
