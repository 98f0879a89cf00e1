from .notebook.rating_fit import RatingFit, fit_rating_model

__all__ = ["RatingFit", "fit_rating_model"]
