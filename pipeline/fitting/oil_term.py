"""Whether oils enter the rating model by name or by viscosity: whichever the log supports better.

Both models are held by their marginal likelihood, priors and all, in Laplace's approximation at their modes, over the
channels together. Viscosity, one number for all grades, takes the place of the names only where it makes the ratings
at least three times as likely as they do, and as no oil effect at all does ("positive" evidence: Kass & Raftery 1995,
J. Am. Stat. Assoc. 90, 773-795): one number in place of many would win by being one where oils do not matter.
"""

from __future__ import annotations

import numpy as np
import polars as pl

from draincurve.pipeline.describing.oil_viscosity import VISCOSITY, OilTerm, why_names_stay, with_viscosity
from draincurve.pipeline.describing.rated_drains import RatedDrains, describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_mode
from draincurve.schemas.channels import channel_names
from draincurve.schemas.settings import Settings

TIMES_LIKELIER = 3.0


def choose_oil_term(
    drains: pl.DataFrame,
    state: pl.DataFrame,
    oils: pl.DataFrame | None,
    settings: Settings,
    *,
    compact: bool = False,
) -> OilTerm:
    """The better supported of the two.

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
    by_names, alone = (_times(evidence["viscosity"] - evidence[other]) for other in ("names", "nothing"))
    if min(by_names, alone) >= TIMES_LIKELIER:
        return OilTerm(
            oils,
            f"Oils are compared by their viscosity at 40 C: it makes the ratings {_words(by_names)} as likely as "
            "their names do.",
        )
    if by_names > 1.0 / TIMES_LIKELIER:
        return OilTerm(None, "Oils are compared by name: the log does not show that viscosity matters, and alone.")
    return OilTerm(
        None,
        f"Oils are compared by name, which makes the ratings {_words(1.0 / by_names)} as likely as viscosity alone "
        "does: oils of one viscosity need not be alike.",
    )


def _evidence(drains: RatedDrains, settings: Settings) -> float:
    """Log marginal likelihood of a channel's model, by Laplace's approximation at its mode; 0 without drains."""
    if not drains.low.size:
        return 0.0
    fit = fit_mode(drains, settings)
    mode = fit.maximum.point.working
    sign, log_determinant = np.linalg.slogdet(-fit.maximum.hessian)
    if sign <= 0:
        return float("-inf")
    density = float(np.asarray(fit.objective.log_density(mode[None, :]))[0])
    return density + 0.5 * mode.size * float(np.log(2.0 * np.pi)) - 0.5 * float(log_determinant)


def _times(gain: float) -> float:
    """A gain in log likelihood as how many times as likely."""
    return float(np.exp(np.clip(gain, -700.0, 700.0)))


def _words(times: float) -> str:
    return "over 1000 times" if times > 1000 else f"{times:.0f} times" if times >= 10 else f"{times:.1f} times"
