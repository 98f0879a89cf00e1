"""Whether oils enter the rating model by name or by viscosity: whichever the log supports better.

Both models are held by their marginal likelihood, priors and all, in Laplace's approximation at their modes, over the
channels together. Viscosity, one number for all grades, takes the place of the names only where that makes the
ratings at least three times as likely ("positive" evidence: Kass & Raftery 1995, J. Am. Stat. Assoc. 90, 773-795).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from pipeline.describing.oil_viscosity import why_names_stay, with_viscosity
from pipeline.describing.rated_drains import CHANNELS, RatedDrains, describe
from pipeline.fitting.channel_fit import fit_mode
from schemas.settings import Settings

TIMES_LIKELIER = 3.0


@dataclass(frozen=True)
class OilTerm:
    """How oils enter the fit: the oils whose viscosity stands in for names, None where names stay; a sentence."""

    oils: pl.DataFrame | None
    words: str


def oil_term(drains: pl.DataFrame, state: pl.DataFrame, oils: pl.DataFrame | None, settings: Settings) -> OilTerm:
    """The better supported of the two.

    drains : accepted drains; state : units as they stand; oils : accepted rows, or None.
    """
    if oils is None or not oils.height:
        return OilTerm(None, "")
    why_not = why_names_stay(drains, state, oils)
    if why_not is not None:
        return OilTerm(None, why_not)
    rated = [(describe(drains, channel), describe(with_viscosity(drains, oils), channel)) for channel in CHANNELS]
    gains = [
        _evidence(by_viscosity, settings) - _evidence(by_name, settings)
        for by_name, by_viscosity in rated
        if by_name.low.size
    ]
    if not gains:
        return OilTerm(None, "")
    times = float(np.exp(np.clip(sum(gains), -700.0, 700.0)))
    if times >= TIMES_LIKELIER:
        return OilTerm(
            oils,
            "Oils are compared by their viscosity at 40 C, which explains the ratings better than their names "
            f"({_times(times)} as likely).",
        )
    if times > 1.0 / TIMES_LIKELIER:
        return OilTerm(None, "Oils are compared by name: the log cannot tell whether viscosity alone would do.")
    return OilTerm(
        None,
        f"Oils are compared by name, which explains the ratings better than viscosity alone ({_times(1.0 / times)} "
        "as likely): oils of one viscosity need not be alike.",
    )


def _evidence(drains: RatedDrains, settings: Settings) -> float:
    """Log marginal likelihood of a channel's model, by Laplace's approximation at the posterior mode."""
    fit = fit_mode(drains, settings)
    mode = fit.ascent.point.place
    sign, log_determinant = np.linalg.slogdet(-fit.ascent.hessian)
    if sign <= 0:
        return float("-inf")
    density = float(np.asarray(fit.objective.log_density(mode[None, :]))[0])
    return density + 0.5 * mode.size * float(np.log(2.0 * np.pi)) - 0.5 * float(log_determinant)


def _times(ratio: float) -> str:
    return "over 1000 times" if ratio > 1000 else f"{ratio:.0f} times" if ratio >= 10 else f"{ratio:.1f} times"
