"""The three links compared: their leave-one-unit-out scores, and how much the answer depends on the choice.

Scores are leave-one-unit-out log scores at the posterior mode (see leave_unit_out.py). A difference under twice its
own standard error over units is not conclusive (Vehtari, Gelman & Gabry 2017, Stat. Comput. 27, 1413-1432). The
report only says so: the link stays what the settings say.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import LINKS, ChannelFit, Likelihood, Link, Objective, Point, prior_for
from draincurve.pipeline.judging.leave_unit_out import leave_unit_out
from draincurve.schemas.array_types import Floats, Integers
from draincurve.schemas.settings import Settings

CLEAR_DIFFERENCE = 2.0
"""Standard errors over units from which one link predicts clearly better than another."""

FEWEST_UNITS = 4
"""With fewer units a comparison of scores over units is not informative."""

_MOST_UNITS = 200
_MODE_TOLERANCE = 1e-7
_UNIT_PLACES = 64
_LONGEST_HOURS = 1e4


@dataclass(frozen=True, slots=True)
class LinkScore:
    """One link: its score against the best (0 for the best, in log score over all scored units), and its answer.

    difference_error : standard error of the difference over units, 0 for the best; hours_at_risk : hours at the
    accepted risk [h] of a unit without history on the commonest spring and oil, at the posterior mode.
    """

    link: str
    hours_law: str
    difference: float
    difference_error: float
    hours_at_risk: float


@dataclass(frozen=True, slots=True)
class LinkChoice:
    """The links of one channel, best first.

    used : the link of the settings; units, scored, refitted : in the fit, scored, and scored by a refit;
    spring_type, oil_grade : what `hours_at_risk` is for; sentences : the finding.
    """

    channel: str
    used: str
    links: tuple[LinkScore, ...]
    units: int
    scored: int
    refitted: int
    spring_type: str
    oil_grade: str
    sentences: tuple[str, ...]

    @property
    def hours_ratio(self) -> float:
        """Longest over shortest hours at the accepted risk among the links: how much the answer depends on it."""
        hours = [item.hours_at_risk for item in self.links]
        return max(hours) / min(hours)


def compare_links(fit: ChannelFit, combinations: pl.DataFrame, *, settings: Settings) -> LinkChoice | str:
    """The comparison for one channel, or a sentence why there is none.

    combinations : springs and oils in use with their drains and the conditions of a fill (see run.py); the one with
    most drains is answered for.
    """
    units = len(fit.unit_keys)
    if units < FEWEST_UNITS:
        return f"the shapes of the curve are compared from {FEWEST_UNITS} units on; here are {units}"
    if combinations.height == 0:
        return "no spring and oil in use is known"
    usual = combinations.sort("drains", "spring_type", "oil_grade", descending=[True, False, False]).head(1)
    some = np.unique(np.linspace(0, units - 1, min(units, _MOST_UNITS)).astype(np.int64))
    scores: dict[str, Floats] = {}
    hours: dict[str, float] = {}
    refitted = 0
    for name, link in LINKS.items():
        objective, mode = _mode_under(fit, link, settings=settings)
        left_out = leave_unit_out(objective, mode, units=some)
        scores[name] = left_out.scores
        refitted += left_out.refitted
        hours[name] = _hours_at_risk(fit, objective, mode=mode, usual=usual, settings=settings)
    best = max(scores, key=lambda name: float(scores[name].sum()))
    links = tuple(
        LinkScore(
            name,
            LINKS[name].hours_law,
            float(np.sum(scores[name] - scores[best])),
            float(np.sqrt(some.size) * np.std(scores[name] - scores[best], ddof=1)),
            hours[name],
        )
        for name in sorted(scores, key=lambda name: -float(scores[name].sum()))
    )
    return LinkChoice(
        fit.drains.channel,
        settings.link,
        links,
        units,
        int(some.size),
        refitted,
        str(usual["spring_type"][0]),
        str(usual["oil_grade"][0]),
        _sentences(links, settings),
    )


def _mode_under(fit: ChannelFit, link: Link, *, settings: Settings) -> tuple[Objective, Point]:
    """The posterior and its mode under a link, searched from the fit's own mode, rescaled."""
    base = fit.fit.objective
    base_link = base.likelihood.link
    if link.name == base_link.name:
        return base, fit.fit.maximum.point
    layout = base.layout
    priors = settings.priors
    scales = np.append(1.0, fit.drains.column_scales(priors))
    means = np.append(0.0, fit.drains.column_means(priors))
    prior = prior_for(layout, priors, link=link, column_scales=scales, column_means=means)
    likelihood = Likelihood(base.likelihood.ratings, link, nodes=base.likelihood.rule.nodes.size)
    objective = replace(base, likelihood=likelihood, prior=prior)
    start = fit.fit.maximum.point.working.copy()
    ratio = link.scale / base_link.scale
    free = np.setdiff1d(np.arange(layout.levels - 1, layout.levels - 1 + layout.columns), _pooled_or_hours(objective))
    start[free] *= ratio
    start[0] *= ratio
    logs = [*range(1, layout.levels - 1), *range(layout.group_log_sds.start, layout.size)]
    start[logs] += np.log(ratio)
    if layout.hours_index is not None:
        start[layout.hours_index] += np.log(ratio)
    return objective, objective.maximise(start, near_mode=True, tolerance=_MODE_TOLERANCE).point


def _pooled_or_hours(objective: Objective) -> Integers:
    """Columns that are not on the scale of the link: pooled ones have unit variance, the slope is a log."""
    layout = objective.layout
    members = [layout.levels - 1 + member for group in layout.pooled for member in group]
    return np.array([*members, *([] if layout.hours_index is None else [layout.hours_index])], dtype=np.int64)


def _hours_at_risk(
    fit: ChannelFit, objective: Objective, *, mode: Point, usual: pl.DataFrame, settings: Settings
) -> float:
    """Hours [h] at which a unit without history has the accepted risk, at the mode, averaged over units."""
    layout, link = objective.layout, objective.likelihood.link
    natural = layout.natural(mode.working)
    k = layout.levels - 1
    columns = natural[k : k + layout.columns]
    threshold = natural[settings.limit_rating(fit.drains.channel) - 2] + fit.fit.centres @ columns
    for term, span in zip(fit.drains.terms, fit.drains.spans(), strict=True):
        row = usual if term.column in usual.columns else usual.with_columns(pl.lit(None).alias(term.column))
        threshold -= float(term.encode(row)[0] @ columns[1:][span])
    quantiles = (np.arange(_UNIT_PLACES) + 0.5) / _UNIT_PLACES
    thresholds = threshold - natural[-1] * LINKS["probit"].quantile(quantiles)
    low, high = np.log(1e-4), np.log(_LONGEST_HOURS)
    for _ in range(60):
        middle = (low + high) / 2.0
        risk = float(np.mean(link.survival(thresholds - columns[0] * middle)))
        low, high = (middle, high) if risk <= settings.accepted_risk else (low, middle)
    return float(np.exp(low))


def _sentences(links: tuple[LinkScore, ...], settings: Settings) -> tuple[str, ...]:
    """The comparison in sentences."""
    best = links[0]
    used = next(item for item in links if item.link == settings.link)
    hours = [item.hours_at_risk for item in links]
    if used is best or used.difference > -CLEAR_DIFFERENCE * used.difference_error:
        choice = f"No shape of the curve predicts units clearly better than the one in use ({used.link})."
    else:
        choice = (
            f"The {best.link} shape predicts units clearly better than the one in use ({used.link}); "
            f'try link = "{best.link}" in the settings.'
        )
    return (
        choice,
        f"A unit without history would get {min(hours):.1f} to {max(hours):.1f} h, "
        f"{max(hours) / min(hours):.2f}x from the shortest to the longest, by shape alone.",
    )
