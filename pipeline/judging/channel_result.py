"""Results of one channel's fit: multipliers, how far the priors moved, curves and diagnostics."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.describing import VISCOSITY, RatedDrains
from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.isotonic_estimate import IsotonicEstimate, isotonic_estimate
from draincurve.pipeline.judging.risk_curves import RiskCurve, combination_curves, fleet_curve
from draincurve.schemas.array_types import Floats
from draincurve.schemas.channels import title_of
from draincurve.schemas.settings import Settings


@dataclass(frozen=True, slots=True)
class PriorMovement:
    """How far the log moved one parameter from its prior: posterior sd / prior sd, 1 means not at all."""

    parameter: str
    meaning: str
    prior_sd: float
    posterior_sd: float

    @property
    def ratio(self) -> float:
        """Posterior sd over prior sd."""
        return self.posterior_sd / self.prior_sd


@dataclass(frozen=True, slots=True)
class Multiplier:
    """Hours multiplier of one level of a term against the average level: 0.72 lasts 0.72x the hours."""

    term: str
    level: str
    drains: int
    units: int
    multiplier: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class FitDiagnostics:
    """How the posterior was computed and whether it can be trusted."""

    converged: bool
    iterations: int
    log_likelihood: float
    method: str  # "importance resampling" or "gaussian at the mode"
    pareto_shape: float | None
    effective_sample_size: float | None
    rounds: int
    trusted: bool
    message: str


@dataclass(frozen=True, slots=True)
class ChannelResult:
    """One channel's fit as the report shows it; `why_not` is a sentence when there is no fit.

    ratings : columns unit_id, site, drained_on, oil_hours [h], rating_low, rating_high, past_limit
    (1, 0, or null where a range straddles the limit)
    """

    channel: str
    limit: int
    why_not: str | None
    ratings: pl.DataFrame
    fleet_curve: RiskCurve | None = None
    curves: tuple[RiskCurve, ...] = ()
    steps: IsotonicEstimate | None = None
    multipliers: tuple[Multiplier, ...] = ()
    prior_movement: tuple[PriorMovement, ...] = ()
    diagnostics: FitDiagnostics | None = None
    hours_slope: tuple[float, float, float] | None = None  # median, 5 %, 95 %
    unit_spread: tuple[float, float, float] | None = None  # hours ratio of a unit one sd dirtier: median, 5 %, 95 %


def channel_result(
    fit: ChannelFit, combinations: pl.DataFrame, *, settings: Settings, rng: np.random.Generator
) -> ChannelResult:
    """One fitted channel as the report shows it.

    combinations : springs and oils in use, with the conditions of a fill.
    """
    limit = settings.limit_rating(fit.drains.channel)
    ratings = rating_rows(fit.drains.rows, fit.drains.channel, limit=limit)
    seen = ratings.select("oil_hours", "past_limit").drop_nulls("past_limit")
    return ChannelResult(
        channel=fit.drains.channel,
        limit=limit,
        why_not=None,
        ratings=ratings,
        fleet_curve=fleet_curve(fit, settings),
        curves=combination_curves(fit, combinations, settings=settings, rng=rng),
        steps=isotonic_estimate(seen["oil_hours"].to_numpy(), seen["past_limit"].to_numpy().astype(float))
        if seen.height
        else None,
        multipliers=_multipliers(fit),
        prior_movement=_prior_movement(fit),
        diagnostics=_diagnostics(fit),
        hours_slope=_points(fit.hours_slope),
        unit_spread=_points(np.exp(-fit.unit_sd / fit.hours_slope)),
    )


def unfitted_result(drains: RatedDrains, settings: Settings, *, why_not: str) -> ChannelResult:
    """A channel without a fit: its ratings, and why."""
    limit = settings.limit_rating(drains.channel)
    return ChannelResult(drains.channel, limit, why_not, rating_rows(drains.rows, drains.channel, limit=limit))


def rating_rows(rows: pl.DataFrame, channel: str, *, limit: int) -> pl.DataFrame:
    """The ratings behind a channel: unit_id, site, drained_on, oil_hours, rating_low, rating_high, past_limit."""
    low, high = pl.col(f"{channel}_low"), pl.col(f"{channel}_high")
    return rows.select(
        "unit_id",
        "site",
        "drained_on",
        "oil_hours",
        low.alias("rating_low"),
        high.alias("rating_high"),
        pl.when(low >= limit).then(1).when(high < limit).then(0).otherwise(None).alias("past_limit"),
    )


def _multipliers(fit: ChannelFit) -> tuple[Multiplier, ...]:
    """Hours multiplier exp(-effect / slope) of every level of every term that has levels."""
    multipliers: list[Multiplier] = []
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        if term.contrasts is None:
            continue
        draws = np.exp(-(fit.coefficients[:, span] @ term.contrasts.T) / fit.hours_slope[:, None])
        low, median, high = np.quantile(draws, (0.05, 0.5, 0.95), axis=0)
        # Rows come by unit, so that a run of one key is a unit: its number takes less room than its name.
        rows = fit.drains.rows.select(pl.col(term.column).alias("level"), pl.col("unit_key").rle_id().alias("unit"))
        counts = rows.group_by("level").agg(pl.len().alias("drains"), pl.col("unit").n_unique().alias("units"))
        counts = counts.with_columns(pl.col("level").cast(pl.String))
        count_of = {row["level"]: row for row in counts.iter_rows(named=True)}
        multipliers.extend(
            Multiplier(
                term.label,
                level,
                count_of[level]["drains"],
                count_of[level]["units"],
                float(median[index]),
                float(low[index]),
                float(high[index]),
            )
            for index, level in enumerate(term.levels)
        )
    return tuple(multipliers)


def _prior_movement(fit: ChannelFit) -> tuple[PriorMovement, ...]:
    """Posterior over prior sd of the working parameters, several columns of one term as one (root mean square)."""
    plan, prior = fit.fit.objective.layout, fit.fit.objective.prior
    assert prior is not None, "a channel is always fitted with a prior"
    before, after = prior.working_sd(), fit.posterior.draws.std(axis=0)
    parameters: list[tuple[str, str, list[int]]] = [
        ("hours slope", "how fast ratings rise with hours (log)", [plan.levels - 1]),
        ("sd between units", "how much units differ (log)", [plan.size - 1]),
    ]
    first = plan.levels
    groups = iter(range(plan.group_log_sds.start, plan.group_log_sds.stop))
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        columns = list(range(first + span.start, first + span.stop))
        parameters.append((term.label, f"effect of {term.label}", columns))
        if term.kind == "pooled":
            parameters.append(
                (
                    f"sd between levels of {term.label}",
                    f"how much the levels of {term.label} differ (log)",
                    [next(groups)],
                )
            )
    return tuple(
        PriorMovement(name, meaning, _root_mean_square(before[of_parameter]), _root_mean_square(after[of_parameter]))
        for name, meaning, of_parameter in parameters
    )


def _diagnostics(fit: ChannelFit) -> FitDiagnostics:
    posterior = fit.posterior
    trusted = fit.fit.converged and posterior.trusted
    if not fit.fit.converged:
        message = "the fit did not settle: look for a column that fixes the rating, or leave one out"
    elif not posterior.trusted:
        message = "the spread of the answers is rough: the draws did not reach their goals; ranges may be too narrow"
    else:
        message = ""
    return FitDiagnostics(
        converged=fit.fit.converged,
        iterations=fit.fit.iterations,
        log_likelihood=fit.fit.log_likelihood,
        method=posterior.method,
        pareto_shape=posterior.pareto_shape,
        effective_sample_size=posterior.effective_sample_size,
        rounds=posterior.rounds,
        trusted=trusted,
        message=message,
    )


def _points(draws: Floats) -> tuple[float, float, float]:
    low, median, high = np.quantile(draws, (0.05, 0.5, 0.95))
    return float(median), float(low), float(high)


def _root_mean_square(values: Floats) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def viscosity_sentences(fits: Iterable[ChannelFit]) -> tuple[str, ...]:
    """One sentence for each channel with the hours multiplier of twice the viscosity, and its 90 % range."""
    sentences = []
    for fit in fits:
        for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
            if term.column == VISCOSITY:
                draws = np.exp(-np.log(2.0) * fit.coefficients[:, span.start] / fit.hours_slope)
                low, median, high = np.quantile(draws, (0.05, 0.5, 0.95))
                sentences.append(
                    f"{title_of(fit.drains.channel)}: an oil twice as thick at 40 C lasts {median:.2f} times the "
                    f"hours (90 % range {low:.2f} to {high:.2f})."
                )
    return tuple(sentences)
