"""From a service log to how many hours each suspension unit may run before its oil is no longer fit.

`fit_rating_model` is loaded on first use, because the compiled fit takes a second to import.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from draincurve.pipeline.fitting.rating_model import RatingFit, fit_rating_model

__all__ = ["RatingFit", "fit_rating_model"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from draincurve.pipeline.fitting import rating_model

        return getattr(rating_model, name)
    raise AttributeError(f"module 'draincurve' has no attribute {name!r}")
