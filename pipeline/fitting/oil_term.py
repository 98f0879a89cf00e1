"""Whether oils enter the rating model by name or by viscosity: the term with the larger marginal likelihood.

Marginal likelihoods are Laplace approximations at the posterior modes, over the channels together. Viscosity, one
coefficient for all grades, replaces the names only where it makes the ratings at least three times as likely as the
names do and as no oil effect does ("positive" evidence: Kass & Raftery 1995, J. Am. Stat. Assoc. 90, 773-795). Where
oils have no effect, one coefficient would otherwise win over many merely because it is one.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.describing import (
    VISCOSITY,
    OilTerm,
    RatedDrains,
    describe_channel,
    why_names_stay,
    with_viscosity,
)
from draincurve.pipeline.fitting.channel_fit import fit_mode, fit_processing_of
from draincurve.pipeline.fitting.thread_limits import one_thread
from draincurve.schemas.channels import channel_names
from draincurve.schemas.settings import Settings

SUBSTANTIAL_BAYES_FACTOR = 3.0
"""About the least that Jeffreys (1961), Theory of Probability, calls substantial evidence (from memory)."""


def choose_oil_term(
    drains: pl.DataFrame,
    state: pl.DataFrame,
    *,
    oils: pl.DataFrame | None,
    settings: Settings,
    compact: bool = False,
) -> OilTerm:
    """The better supported of the two terms.

    drains : accepted drains; state : units in service; oils : accepted rows, or None; compact : as in
    `describe_channel`.
    """
    if oils is None or not oils.height:
        return OilTerm()
    why_not = why_names_stay(drains, state, oils)
    if why_not is not None:
        return OilTerm(None, why_not)
    rows = {
        "names": drains,
        "viscosity": with_viscosity(drains, oils),
        "nothing": drains.with_columns(pl.lit(0.0).alias(VISCOSITY)),
    }
    evidence = {
        name: sum(
            _evidence(describe_channel(frame, channel, compact=compact), settings) for channel in channel_names()
        )
        for name, frame in rows.items()
    }
    over_names, over_none = (_bayes_factor(evidence["viscosity"] - evidence[other]) for other in ("names", "nothing"))
    if min(over_names, over_none) >= SUBSTANTIAL_BAYES_FACTOR:
        return OilTerm(
            oils,
            f"Oils are compared by their viscosity at 40 C: it makes the ratings {_text(over_names)} as likely as "
            "their names do.",
        )
    if over_names > 1.0 / SUBSTANTIAL_BAYES_FACTOR:
        return OilTerm(
            None, "Oils are compared by name: the log does not show that viscosity alone tells them apart as well."
        )
    return OilTerm(
        None,
        f"Oils are compared by name, which makes the ratings {_text(1.0 / over_names)} as likely as viscosity alone "
        "does: oils of one viscosity need not be alike.",
    )


def _evidence(drains: RatedDrains, settings: Settings) -> float:
    """Log marginal likelihood of a channel's model by the Laplace approximation; 0 without drains."""
    if not drains.low.size:
        return 0.0
    fit = fit_mode(drains, settings)
    mode = fit.maximum.point.working
    sign, log_determinant = np.linalg.slogdet(-fit.maximum.hessian)
    if sign <= 0:
        return float("-inf")
    with one_thread(when=fit_processing_of(drains).one_thread):
        density = float(np.asarray(fit.objective.log_density(mode[None, :]))[0])
    return density + 0.5 * mode.size * float(np.log(2.0 * np.pi)) - 0.5 * float(log_determinant)


def _bayes_factor(gain: float) -> float:
    """The Bayes factor of a difference in log marginal likelihood."""
    return float(np.exp(np.clip(gain, -700.0, 700.0)))


def _text(times: float) -> str:
    return "over 1000 times" if times > 1000 else f"{times:.0f} times" if times >= 10 else f"{times:.1f} times"
