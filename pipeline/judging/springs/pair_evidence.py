"""What one channel says of each pair of springs, as numbers: multipliers, test, relabelling, separation, counts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import polars as pl

from draincurve.pipeline.fitting import ChannelFit
from draincurve.pipeline.judging.springs.comparable_springs import Comparable
from draincurve.pipeline.judging.springs.identifiability import (
    SPRING,
    Separation,
    design_columns,
    separation,
)
from draincurve.pipeline.judging.springs.pair_tests import (
    FEWEST_UNITS,
    MergedTest,
    information_a_drain,
    merged_test,
    permutation_p_value,
)
from draincurve.pipeline.judging.springs.sample_size import (
    difference_found,
    drains_if_crossed,
    further_drains,
    information_needed,
)
from draincurve.schemas.array_types import Floats

HOPELESS = 200
"""If more than this multiple of the drains so far were needed, drains like these give no answer."""

PRACTICAL = 1.15
"""Hours multipliers from 1/1.15 to 1.15 make no difference to a shop (a starting value, no source)."""


@dataclass(frozen=True)
class PairEvidence:
    """Numbers of one pair.

    multiplier_range : 5 % point, median and 95 % point of the hours multiplier. lone_unit : the only unit that ran
    one of the two and never the other, or None. multiplier_range, test, p_permutation : None where the pair cannot be
    separated, since the priors decide how a difference is divided between the spring and what is confounded with it
    alone. sound : the fit settled and its draws can be trusted.
    """

    spring_type: str
    compared_with: str
    multiplier_range: tuple[float, float, float] | None
    separation: Separation
    lone_unit: str | None
    test: MergedTest | None
    p_permutation: float | None
    drains: int
    units: int
    shared_riders: int
    shared_oils: int
    hours_slope: float
    drain_information: float
    sound: bool

    @property
    def separable(self) -> bool:
        """Whether the log separates the two springs from other columns."""
        return self.separation.separable and self.lone_unit is None

    @property
    def wanted(self) -> float:
        """The difference to be found, as a multiplier over 1: the observed one, or one that matters if larger."""
        if self.multiplier_range is None:
            return PRACTICAL
        _, median, _ = self.multiplier_range
        return max(PRACTICAL, median, 1.0 / median)

    def information_wanted(self, tests: int) -> float:
        """Information on the coefficients' difference at which the wanted difference is found."""
        return information_needed(self.hours_slope * float(np.log(self.wanted)), tests)

    def drains_needed(self, tests: int) -> int | None:
        """Further drains, shared out as so far, that settle the pair with 80 % power; None where none would."""
        if self.test is None:
            return None
        more = further_drains(self.test.information, self.information_wanted(tests), drains=self.drains)
        if more is None or more > HOPELESS * self.drains:
            return None
        a_unit = -(-self.drains // self.units)
        missing = max(0, FEWEST_UNITS - self.units) * a_unit
        return max(more, missing, 1)

    def found_by_as_many(self, tests: int) -> float | None:
        """The least multiplier over 1 that as many drains again would find with 80 % power; None where none would."""
        if self.test is None or self.test.information <= 0.0:
            return None
        return float(np.exp(difference_found(2.0 * self.test.information, tests) / self.hours_slope))

    def drains_after_swap(self, tests: int) -> int | None:
        """Drains of the two springs together that find the wanted difference once a swap separates them, or None."""
        count = drains_if_crossed(self.drain_information, self.information_wanted(tests))
        return None if count is None or count > HOPELESS * self.drains else count


def pair_evidence(fit: ChannelFit, chosen: Comparable, *, rng: np.random.Generator) -> tuple[PairEvidence, ...]:
    """Evidence of every comparable pair, in order.

    fit : of the chosen drains, or of a log whose other drains are of other springs.
    """
    columns = design_columns(chosen.rows) if chosen.pairs else None
    drain_information = information_a_drain(fit.fit)
    evidence = []
    for first, second in chosen.pairs:
        assert columns is not None
        apart = separation(columns, first, second=second)
        rows = chosen.rows.filter(pl.col(SPRING).is_in([first, second]))
        lone = _lone_unit(rows, first, second=second)
        test, p_permutation, multiplier_range = None, None, None
        if apart.separable and lone is None:
            by_score = fit.processing.score_tests
            test = merged_test(
                fit.fit,
                _columns(fit, SPRING),
                contrast=_contrast(fit, first, second=second),
                loosened=_columns(fit, "part_age"),
                by_score=by_score,
            )
            p_permutation = permutation_p_value(test.unit_scores, rng)
            multiplier_range = _multiplier_range(fit, _contrast(fit, first, second=second))
        evidence.append(
            PairEvidence(
                spring_type=first,
                compared_with=second,
                multiplier_range=multiplier_range,
                separation=apart,
                lone_unit=lone,
                test=test,
                p_permutation=p_permutation,
                drains=rows.height,
                units=rows["unit_key"].n_unique(),
                shared_riders=_shared(rows, "rider"),
                shared_oils=_shared(rows, "oil_grade"),
                hours_slope=float(np.median(fit.hours_slope)),
                drain_information=drain_information,
                sound=fit.fit.converged and fit.posterior.trusted,
            )
        )
    return tuple(evidence)


def _columns(fit: ChannelFit, column: str) -> slice:
    """A term's columns of the design."""
    pairs = zip(fit.drains.terms, fit.drains.spans(), strict=True)
    return next(span for term, span in pairs if term.column == column)


def _contrast(fit: ChannelFit, first: str, *, second: str) -> Floats:
    """The difference of two springs' rows of the coding, (width,)."""
    term = next(term for term in fit.drains.terms if term.column == SPRING)
    assert term.contrasts is not None, "spring types are levels"
    return np.asarray(term.contrasts[term.levels.index(first)] - term.contrasts[term.levels.index(second)])


def _multiplier_range(fit: ChannelFit, contrast: Floats) -> tuple[float, float, float]:
    """5 % point, median and 95 % point of the hours multiplier exp(-difference / slope)."""
    difference = fit.coefficients[:, _columns(fit, SPRING)] @ contrast
    low, median, high = np.quantile(np.exp(-difference / fit.hours_slope), (0.05, 0.5, 0.95)).tolist()
    return low, median, high


def _lone_unit(rows: pl.DataFrame, first: str, *, second: str) -> str | None:
    """The only unit that ran one of the springs, where it never ran the other."""
    units = {spring: set(rows.filter(pl.col(SPRING) == spring)["unit_key"].to_list()) for spring in (first, second)}
    for lone, others in ((units[first], units[second]), (units[second], units[first])):
        if len(lone) == 1 and lone.isdisjoint(others):
            return str(rows.filter(pl.col("unit_key").is_in(list(lone)))["unit_id"][0])
    return None


def _shared(rows: pl.DataFrame, column: str) -> int:
    """Levels of a column that were seen with both springs."""
    springs = rows.drop_nulls(column).group_by(column).agg(pl.col(SPRING).n_unique())
    return int((springs[SPRING] > 1).sum())
