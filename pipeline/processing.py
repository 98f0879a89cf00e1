"""How a log, a fleet and a channel's fit are processed: every choice that depends on their size, and every limit.

Each choice is made once, by the functions here, and handed down as an object. Other modules do what the object says
for their own subject and never look at the size themselves. Another way of processing is another instance.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

LARGE_FLEET_UNITS = 2_000
"""A fleet of more units takes minutes and gigabytes if all its units are processed at once and its posterior is
sampled; with so many units the posterior is normal and a sample of them answers most questions."""

PIECE_ROWS = 500_000
"""Rows of whole units that are processed at once where each unit's result depends on its own rows only: sorting and
grouping copy what they work on."""

PARTITION_UNITS, FEWEST_PARTITIONS = 8_192, 8
"""Units that are summed in one call, and the least number of such partitions: enough for several workers, each long
enough to be worth its message."""

WARM_START_EVERY, MOST_WARM_UNITS = 20, 50_000
"""One unit in so many, at most this many units, give the optimiser its start: their mode is near the whole log's."""

ONE_THREAD_DRAINS = 5_000
"""With fewer drains a pass over them, or over their units' draws, is shorter than handing it to several threads."""

_NARROW_POSTERIOR_DRAINS = 10_000
"""With more drains the posterior is so narrow that the noise of fewer draws is small beside it, and a score test is
as good as a likelihood-ratio test, which refits the model twice."""

_NORMAL_POSTERIOR_DRAINS = 50_000
"""With more drains the posterior is normal to the precision of its draws."""

_CATEGORICAL_NAMES_DRAINS = 500_000
"""With as many drains names held as texts take more memory than all other columns together."""

_COMPACT_DESIGN_DRAINS = 200_000
"""With as many drains the columns of the design take gigabytes, the indices of its levels a few bytes a drain."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LogProcessing:
    """How a log is read and checked, which is decided before its fleet is known.

    release_bytes : size of a file from which freed memory goes back to the system at once; categorical_rows : rows of
    a Parquet file from which each distinct text is held once; piece_rows : rows that are validated, or whose reasons
    for being held back are written, at once; held_back_in_memory : rows held back that stay in memory, to be shown;
    where there are more, all of them are on disk.
    """

    release_bytes: int = 100_000_000  # reading it frees gigabytes that later stages need
    categorical_rows: int = 100_000  # with fewer, texts cost less than looking for equal ones
    piece_rows: int = 250_000  # every failing row is written out in full, so larger pieces cost memory
    held_back_in_memory: int = 20_000  # more than anybody reads on a page


EVERY_LOG = LogProcessing()


@dataclass(frozen=True, slots=True, kw_only=True)
class FitProcessing:
    """How one channel's rating model is fitted.

    one_thread : whether compiled sums run on one thread
    single_pass : whether a step of the optimiser takes value, gradient and Hessian from one pass over the drains
    normal_posterior : whether the posterior is taken as normal at its mode instead of sampled by importance
    draws : number of posterior draws, None for that of the settings
    draws_per_round : number that a round of importance sampling weights
    linear_effects : whether unit effects follow the parameters to first order, and are drawn only where needed
    score_tests : whether springs are compared by score tests, without refits
    """

    one_thread: bool = False
    single_pass: bool = False
    normal_posterior: bool = False
    draws: int | None = None
    draws_per_round: int = 2_000
    linear_effects: bool = False
    score_tests: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class FleetProcessing:
    """How a fleet is described, judged and reported; None where there is no limit.

    one_thread : whether compiled sums and linear algebra run on one thread
    categorical_names : whether the drains hold each distinct name once
    compact_design : whether the design is held as indices of levels
    sample_units : random units on which springs, raters, links and legs are judged
    block_units : successive units whose effects are drawn and scored together
    workers : whether an engine's workers are used
    watched_units : units whose cumulative sums are kept for their picture
    carry_over_units : units on which carry-over is estimated
    balance_units : units whose volume balance is put in words
    shown_units : units with a row and a section in the report
    shown_of_a_kind : how many of these are chosen for a sign, for being faster than the fleet, and for having turned
    inspected_units : units to inspect that the first screen names
    full_tables : whether units that the report leaves out are written as a table of their own
    fit_interpretations : whether rows whose hours are asked about are fitted apart from what is known, so that they
    shorten intervals and lengthen none for certain; else their ratings past the limit are among the others, and
    names that may be one are taken as one with the parameters of the fit
    drift_steps : steps of all drifting raters' walks in a channel, from which on walks have fewer periods
    keep_model_drains : whether a report holds the drains of its models, from which a notebook goes on
    """

    one_thread: bool = False
    categorical_names: bool = False
    compact_design: bool = False
    sample_units: int | None = None
    block_units: int | None = None
    workers: bool = False
    watched_units: int | None = None
    carry_over_units: int | None = None
    balance_units: int | None = None
    shown_units: int | None = None
    shown_of_a_kind: int | None = None
    inspected_units: int | None = None
    full_tables: bool = False
    fit_interpretations: bool = True
    drift_steps: int | None = None
    keep_model_drains: bool = True


SMALL_FLEET = FleetProcessing()
LARGE_FLEET = FleetProcessing(
    sample_units=2_500,  # over LARGE_FLEET_UNITS, so that the sample's fit is as quick as a large fleet's
    block_units=1_024,  # their draws fit in a modest piece of memory
    workers=True,  # their work outweighs what it costs to send it there
    watched_units=60,  # of those that turned and of the others: a picture with more is a smear
    carry_over_units=20_000,  # the one number estimated is sharp long before
    balance_units=5_000,  # the most striking; nobody reads more
    shown_units=300,  # the page stays quick in a browser
    shown_of_a_kind=80,  # leaves room for the units due soonest
    inspected_units=60,  # a screen or two
    full_tables=True,
    drift_steps=28,  # four raters in full; each step is a column of the design, and a pass has some 20
    fit_interpretations=False,  # a second fit costs minutes, and a few rows among so many move nothing
    keep_model_drains=False,  # they take gigabytes, which the forecast and the reports need
)


def fleet_processing(*, units: int, drains: int) -> FleetProcessing:
    """The processing of a fleet with so many units in service and accepted drains."""
    if units <= LARGE_FLEET_UNITS:
        return replace(SMALL_FLEET, one_thread=drains < ONE_THREAD_DRAINS)
    return replace(
        LARGE_FLEET,
        categorical_names=drains >= _CATEGORICAL_NAMES_DRAINS,
        compact_design=drains >= _COMPACT_DESIGN_DRAINS,
    )


def fit_processing(*, units: int, drains: int) -> FitProcessing:
    """The processing of a fit to so many rated units and drains.

    A channel that few units of a large fleet are rated for is fitted as in a small one: a normal posterior would
    promise more than few ratings hold.
    """
    large, narrow = units > LARGE_FLEET_UNITS, drains > _NARROW_POSTERIOR_DRAINS
    return FitProcessing(
        one_thread=drains < ONE_THREAD_DRAINS,
        single_pass=large,
        normal_posterior=large or drains > _NORMAL_POSTERIOR_DRAINS,
        draws=200 if large else 400 if narrow else None,  # 200 do where effects fill their quantiles evenly
        draws_per_round=1_000 if narrow else 2_000,  # about every second one is effective, and 400 are wanted
        linear_effects=large,
        score_tests=narrow,
    )


def sample_fit_processing(*, units: int, drains: int) -> FitProcessing:
    """The processing of a fit to a sample of a large fleet."""
    return replace(fit_processing(units=units, drains=drains), normal_posterior=True, draws=400, linear_effects=True)
