"""Days since a log's last drain against its usual gaps, to ask whether the log is out of date."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

import polars as pl

WINDOW_DAYS = 365
"""Usual gaps are those of the year up to the last drain, so that each season is in them once."""
FALSE_QUESTION = 0.01
"""Chance of a question about a log that is up to date, at each of its gaps (our choice)."""


@dataclass(frozen=True, slots=True)
class UnusualGap:
    """A gap since the last drain that is longer than the usual gaps explain.

    site : the site without new drains, None for the whole log.  last_on : day of the last drain.  days : since then.
    usual_days : mean days from one day with a drain to the next.
    """

    site: str | None
    last_on: date
    days: int
    usual_days: float


def unusual_gaps(drains: pl.DataFrame, as_of: date) -> tuple[UnusualGap, ...]:
    """The unusual gap of the whole log or, where other sites go on, of single sites; empty where there is none.

    drains : accepted rows, with top-ups: they too show that the log is kept. Days with a drain are taken as a Poisson
    process, so that after n gaps of mean m the next one is longer than t with chance (1 + t / (n m)) ** -n, however
    few they are. A log with a single day has no usual gap. A pause in riding, as in winter, makes a gap too, so
    this is a reason to ask, not to conclude.
    Source: Lawless (2003), Statistical Models and Methods for Lifetime Data, ch. 4, prediction of an exponential
    lifetime by the F distribution (from memory; held by a test on simulated logs).
    """
    days = drains.select(pl.col("site").cast(pl.String), "drained_on").filter(pl.col("drained_on") <= as_of).unique()
    whole = _unusual_gap(days["drained_on"], None, as_of)
    if whole is not None:
        return (whole,)
    named = days.drop_nulls("site").sort("site").partition_by("site", as_dict=True, maintain_order=True)
    gaps = (
        (_unusual_gap(drains_at_site["drained_on"], str(site), as_of) for (site,), drains_at_site in named.items())
        if len(named) > 1
        else ()
    )
    return tuple(gap for gap in gaps if gap is not None)


def longest_usual_gap(mean_days: float, gaps: int) -> float:
    """Days that the next gap exceeds with chance FALSE_QUESTION, after so many gaps of this mean.

    >>> round(longest_usual_gap(10.0, 20), 1)
    51.8
    """
    return gaps * mean_days * float(FALSE_QUESTION ** (-1.0 / gaps) - 1.0)


def _unusual_gap(days: pl.Series, site: str | None, as_of: date) -> UnusualGap | None:
    written = sorted(set(days.drop_nulls().to_list()))
    recent = [day for day in written if (written[-1] - day).days <= WINDOW_DAYS]
    gaps = len(recent) - 1
    if gaps < 1:
        return None
    last, mean = recent[-1], (recent[-1] - recent[0]).days / gaps
    since = (as_of - last).days
    return UnusualGap(site, last, since, mean) if since > longest_usual_gap(mean, gaps) else None
