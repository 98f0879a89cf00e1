"""From rows to decisions: read, clean, validate, describe, fit, judge, decide.

`fit_rating_model` is here for notebooks; it is loaded on first use, because the compiled fit takes a second to
import and most commands do not need it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pipeline.fitting.rating_model import RatingFit, fit_rating_model

__all__ = ["RatingFit", "fit_rating_model"]


def __getattr__(name: str) -> Any:
    if name in __all__:
        from pipeline.fitting import rating_model

        return getattr(rating_model, name)
    raise AttributeError(f"module 'pipeline' has no attribute {name!r}")
