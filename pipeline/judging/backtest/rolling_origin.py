"""The backtest: at each origin fit on the drains before it, predict those up to the next origin, then score all."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.describing import OilTerm, describe_channel, known_drains, with_conditions, with_viscosity
from draincurve.pipeline.fitting import choose_oil_term
from draincurve.pipeline.judging.backtest.backtest_verdicts import channel_verdict
from draincurve.pipeline.judging.backtest.baseline_predictions import (
    BOOSTED,
    FLEET,
    FLEET_BY_HOURS,
    fleet_by_hours,
    fleet_distribution,
)
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult, ChannelBacktest
from draincurve.pipeline.judging.backtest.forecast_windows import FEWEST_BEFORE, FEWEST_PREDICTED, Window, windows
from draincurve.pipeline.judging.backtest.interval_coverage import interval_coverage
from draincurve.pipeline.judging.backtest.model_predictions import fit_as_of, predicted_rating_probabilities
from draincurve.pipeline.judging.backtest.proper_scores import brier_score, ranked_probability_scores, spiegelhalter_z
from draincurve.pipeline.judging.backtest.risk_calibration import calibration_bins, risk_check
from draincurve.pipeline.judging.backtest.score_comparison import compared
from draincurve.pipeline.stopwatch import Progress, silent
from draincurve.schemas.array_types import Floats
from draincurve.schemas.backtest_table import COLUMNS
from draincurve.schemas.channels import RATING_LEVELS, channel_names
from draincurve.schemas.settings import Settings

ORIGINS = 12
"""Most past dates as of which the model is refitted."""

MOST_DRAINS = 6000
"""Larger logs are reduced to whole units drawn at random, up to this many rows, enough for precise scores."""

_TUNE_AGAIN = 1.6  # the trees' settings are chosen again once the log has grown by this factor


@dataclass(frozen=True)
class Predicted:
    """Drains of one window with each predictor's probabilities, (rows, K) each; boosted only on request."""

    rows: pl.DataFrame
    model: Floats
    fleet: Floats
    by_hours: Floats
    boosted: Floats | None


def backtest(
    drains: pl.DataFrame,
    settings: Settings,
    *,
    rng: np.random.Generator,
    origins: int = ORIGINS,
    rivals: bool = True,
    progress: Progress = silent,
    most_drains: int = MOST_DRAINS,
    oils: pl.DataFrame | None = None,
    second_ratings: pl.DataFrame | None = None,
) -> BacktestResult | str:
    """How earlier predictions would have held, or the reason why this cannot be tested, as a sentence.

    drains : accepted drains of the whole log; origins : most dates as of which to fit; rivals : whether to run the
    boosted trees too (slow); progress : called with the name of each stage; oils :
    accepted oils, by whose viscosities oils enter wherever a plan as of that date would have had them so;
    second_ratings : of these drains, as `second_ratings_in_fit` gives them, None for none
    """
    chosen, note = some_units(known_drains(drains), most_drains, rng=rng)
    rows = with_conditions(chosen).filter(pl.col("oil_hours") > 0)
    rated = pl.any_horizontal(pl.col(f"{channel}_low").is_not_null() for channel in channel_names())
    origin_windows = windows(rows.filter(rated)["drained_on"], origins)
    if isinstance(origin_windows, str):
        return origin_windows
    # What ran in the drains to predict is taken for the units in service.
    terms = [
        choose_oil_term(chosen.filter(window.before()), rows.filter(window.inside()), oils=oils, settings=settings)
        for window in origin_windows
    ]
    channels: list[ChannelBacktest] = []
    without: list[tuple[str, str]] = []
    frames: list[pl.DataFrame] = []
    for channel, stream in zip(channel_names(), rng.spawn(len(channel_names())), strict=True):
        predicted = _predicted(
            chosen,
            rows,
            channel=channel,
            windows_and_terms=tuple(zip(origin_windows, terms, strict=True)),
            second_ratings=second_ratings,
            settings=settings,
            rng=stream,
            rivals=rivals,
            progress=progress,
        )
        if sum(part.rows.height for _, part in predicted) < FEWEST_PREDICTED:
            without.append(
                (channel, f"too few drains rated for {channel} came after enough others to predict them from")
            )
            continue
        result, frame = _scored(channel, predicted, settings=settings, rng=stream)
        channels.append(result)
        frames.append(frame)
    if not channels:
        return "; ".join(sentence for _, sentence in without)
    return BacktestResult(tuple(channels), tuple(without), note, pl.concat(frames))


def some_units(drains: pl.DataFrame, most: int, *, rng: np.random.Generator) -> tuple[pl.DataFrame, str | None]:
    """All rows and None; with too many of them, those of units drawn at random and a note."""
    if drains.height <= most:
        return drains, None
    counts = drains["unit_key"].value_counts().sort("unit_key")
    order = rng.permutation(counts.height)
    kept = order[: max(1, int(np.searchsorted(counts["count"].to_numpy()[order].cumsum(), most, side="right")))]
    some = drains.filter(pl.col("unit_key").is_in(counts["unit_key"].gather(kept).to_list()))
    return some, f"tried on {kept.size} of {counts.height} units, drawn at random, for speed"


def _predicted(
    drains: pl.DataFrame,
    rows: pl.DataFrame,
    *,
    channel: str,
    windows_and_terms: tuple[tuple[Window, OilTerm], ...],
    second_ratings: pl.DataFrame | None,
    settings: Settings,
    rng: np.random.Generator,
    rivals: bool,
    progress: Progress,
) -> list[tuple[Window, Predicted]]:
    """Predictions for one channel's windows with enough drains before them and at least one inside.

    Each window has its own random numbers, so that nothing later in the log can change its predictions.
    """
    rated = rows.filter(pl.col(f"{channel}_low").is_not_null())
    trees = _Trees(channel) if rivals else None
    predicted = []
    for number, ((window, term), stream) in enumerate(
        zip(windows_and_terms, rng.spawn(len(windows_and_terms)), strict=True), start=1
    ):
        inside = rated.filter(window.inside())
        before = rated.filter(window.before())
        if inside.height == 0 or before.height < FEWEST_BEFORE:
            continue
        progress(f"backtest, {channel}, {number} of {len(windows_and_terms)}")
        known = describe_channel(with_viscosity(drains.filter(window.before()), term.oils), channel)
        fit = fit_as_of(known.with_second(second_ratings), settings, rng=stream)
        low, high = (before[f"{channel}_{end}"].cast(pl.Int64).to_numpy() for end in ("low", "high"))
        hours = inside["oil_hours"].to_numpy()
        predicted.append(
            (
                window,
                Predicted(
                    inside,
                    predicted_rating_probabilities(
                        fit, with_viscosity(inside, term.oils), priors=settings.priors, rng=stream
                    ),
                    np.tile(fleet_distribution(low, high), (inside.height, 1)),
                    fleet_by_hours(before["oil_hours"].to_numpy(), low, high=high, hours=hours),
                    trees.probabilities(before, inside, seed=int(stream.integers(2**31)))
                    if trees is not None
                    else None,
                ),
            )
        )
    return predicted


class _Trees:
    """The boosted trees over successive origins: settings are chosen at the first, and again as the log grows."""

    def __init__(self, channel: str) -> None:
        self.channel = channel
        self.tuned_on = 0
        self.settings: dict[str, float] = {}

    def probabilities(self, before: pl.DataFrame, inside: pl.DataFrame, *, seed: int) -> Floats:
        """Probability of each rating of the drains inside, (rows, K)."""
        # Deferred: only a full backtest needs the ensembles, which take a while to import.
        from draincurve.pipeline.judging.backtest.boosted_trees import boosted_probabilities, training_drains, tuned

        known = training_drains(before, self.channel)
        if before.height >= _TUNE_AGAIN * self.tuned_on:
            self.settings, self.tuned_on = dict(tuned(known, seed)), before.height
        return boosted_probabilities(known, inside, chosen=self.settings, seed=seed)


def _scored(
    channel: str, predicted: list[tuple[Window, Predicted]], *, settings: Settings, rng: np.random.Generator
) -> tuple[ChannelBacktest, pl.DataFrame]:
    """One channel's result and its rows of the backtest table."""
    limit = settings.limit_rating(channel)
    parts = [part for _, part in predicted]
    rows = pl.concat([part.rows.with_columns(pl.lit(window.origin).alias("origin")) for window, part in predicted])
    low, high = (rows[f"{channel}_{end}"].cast(pl.Int64).to_numpy() for end in ("low", "high"))
    model = np.vstack([part.model for part in parts])
    rival = {FLEET: np.vstack([part.fleet for part in parts]), FLEET_BY_HOURS: np.vstack([p.by_hours for p in parts])}
    boosted = [part.boosted for part in parts if part.boosted is not None]
    if boosted:
        rival[BOOSTED] = np.vstack(boosted)
    ours = ranked_probability_scores(model, low, high=high)
    theirs = {name: ranked_probability_scores(probabilities, low, high=high) for name, probabilities in rival.items()}
    units = rows["unit_key"].to_numpy()
    others = {name: compared(name, ours, theirs=scores, units=units, rng=rng) for name, scores in theirs.items()}

    risk = model[:, limit - 1 :].sum(axis=1)
    past = np.where(low >= limit, 1.0, np.where(high < limit, 0.0, np.nan))
    seen = ~np.isnan(past)
    within = seen & (risk <= settings.accepted_risk)
    whole, at_risk = risk_check(risk[seen], past[seen]), risk_check(risk[within], past[within])
    result = ChannelBacktest(
        channel=channel,
        limit=limit,
        accepted_risk=settings.accepted_risk,
        origins=tuple(window.origin for window, _ in predicted),
        drains=rows.height,
        units=rows["unit_key"].n_unique(),
        score=float(ours.mean()),
        fleet=others[FLEET],
        fleet_by_hours=others[FLEET_BY_HOURS],
        boosted=others.get(BOOSTED),
        bins=calibration_bins(risk[seen], past[seen]),
        whole=whole,
        within_risk=at_risk,
        coverage=interval_coverage(model, low, high=high, risk=risk, past=past),
        brier=brier_score(risk[seen], past[seen]) if whole is not None else None,
        spiegelhalter_z=spiegelhalter_z(risk[seen], past[seen]),
        verdict=channel_verdict(float(ours.mean()), others[FLEET], whole=whole, within=at_risk),
    )
    return result, _rows(rows, channel, model=model, risk=risk, past=past, ours=ours, theirs=theirs)


def _rows(
    rows: pl.DataFrame,
    channel: str,
    *,
    model: Floats,
    risk: Floats,
    past: Floats,
    ours: Floats,
    theirs: dict[str, Floats],
) -> pl.DataFrame:
    """One row for each predicted drain, columns as in draincurve.schemas.backtest_table."""
    empty = np.full(rows.height, np.nan)
    numbers = {f"p{level}": model[:, level - 1] for level in range(1, RATING_LEVELS + 1)} | {
        "p_past_limit": risk,
        "score": ours,
        "score_fleet": theirs[FLEET],
        "score_fleet_by_hours": theirs[FLEET_BY_HOURS],
        "score_boosted": theirs.get(BOOSTED, empty),
    }
    return rows.with_columns(
        pl.lit(channel).alias("channel"),
        pl.col(f"{channel}_low").cast(pl.Int64).alias("rating_low"),
        pl.col(f"{channel}_high").cast(pl.Int64).alias("rating_high"),
        pl.Series("past_limit", past).fill_nan(None).cast(pl.Int64),
        *(pl.Series(name, values).fill_nan(None) for name, values in numbers.items()),
    ).select(COLUMNS)
