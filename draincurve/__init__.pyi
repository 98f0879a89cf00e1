from .notebook.invented_fleet import InventedFleet, simulate
from .notebook.rating_fit import RatingFit, fit_rating_model

__all__ = ["InventedFleet", "RatingFit", "fit_rating_model", "simulate"]
