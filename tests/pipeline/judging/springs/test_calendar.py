"""Springs that came in at one time, and parts that wear: neither is taken for the other."""

import numpy as np
import pytest
from spring_logs import FIRST_DAY, changed_fleet, compared, drains_frame

from draincurve.pipeline.describing.fill_conditions import with_conditions
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_mode
from draincurve.pipeline.judging.estimable_contrasts import hidden_by_calendar
from draincurve.pipeline.judging.springs.identifiability import design_columns, separation
from draincurve.pipeline.judging.springs.pair_tests import merged_test
from draincurve.pipeline.judging.springs.spring_verdicts import CANNOT_TELL, SHEDS_MORE
from draincurve.schemas.settings import Settings


def test_a_whole_fleet_that_changed_at_one_time_cannot_tell_yet():
    found = compared(changed_fleet(12, 12, wear=0.2))
    (pair,) = found.pairs
    assert pair.verdict == CANNOT_TELL
    assert pair.p_value is None
    assert pair.reason.startswith("Stepped and Plain cannot be distinguished from the calendar. ")
    assert "To tell: run Stepped in some units while others run Plain; " in pair.reason
    said = "No drain on Stepped is from before March 2025: what else changed then cannot be told from it."
    assert said in found.confounded


@pytest.mark.parametrize("drains", [3, 5, 9])
def test_few_drains_do_not_separate_a_spring_from_its_date(drains):
    rows = drains_frame(changed_fleet(5, 5, drains=drains))
    assert hidden_by_calendar(rows, "spring_type") == {("Plain", "Stepped"): True}


def test_half_of_the_fleet_tells_a_spring_from_the_calendar():
    rows = changed_fleet(24, 12, effect=2.0)
    assert separation(design_columns(with_conditions(drains_frame(rows))), "Stepped", second="Plain").widening < 1.6
    (pair,) = compared(rows).pairs
    assert pair.verdict == SHEDS_MORE


def test_a_spring_that_was_on_for_a_while_only_is_one_with_its_time():
    rows = changed_fleet(12, 12)
    for row in rows:
        row["spring_type"] = "Stepped" if 50 <= (row["drained_on"] - FIRST_DAY).days < 90 else "Plain"
    assert separation(design_columns(with_conditions(drains_frame(rows))), "Stepped", second="Plain").by == (
        "period",
    )


def test_units_that_changed_at_dates_of_their_own_are_separable():
    rows = changed_fleet(24, 24, own_date=True)
    assert separation(design_columns(with_conditions(drains_frame(rows))), "Stepped", second="Plain").separable


@pytest.mark.parametrize("days", [1, 400])
def test_the_length_of_a_season_does_not_matter(days):
    rows = changed_fleet(8, 4)
    for row in rows:
        row["drained_on"] = FIRST_DAY + days * (row["drained_on"] - FIRST_DAY)
    near = separation(design_columns(with_conditions(drains_frame(changed_fleet(8, 4)))), "Stepped", second="Plain")
    far = separation(design_columns(with_conditions(drains_frame(rows))), "Stepped", second="Plain")
    assert far.widening == pytest.approx(near.widening)


def test_drains_of_one_day_are_in_one_period():
    rows = changed_fleet(12, 12)
    for row in rows:
        row["drained_on"] = FIRST_DAY
    assert hidden_by_calendar(drains_frame(rows), "spring_type") == {("Plain", "Stepped"): False}


def test_wear_is_no_difference_between_springs():
    """Each unit changes at its own sixth drain, so that the calendar does not hide it: of 40 fleets with equal
    springs 2 should show a difference at 5 %; without the age of the part most do."""
    with_age, without = [], []
    for seed in range(40):
        drains = describe_channel(drains_frame(changed_fleet(12, 12, wear=0.2, seed=seed, own_date=True)), "debris")
        fit = fit_mode(drains, Settings())
        spring, age = drains.spans()[0], drains.spans()[-1]
        contrast = drains.terms[0].contrasts[0] - drains.terms[0].contrasts[1]
        with_age.append(merged_test(fit, spring, contrast=contrast, loosened=age).p_value)
        without.append(merged_test(fit, spring, contrast=contrast).p_value)
    assert np.sum(np.array(with_age) < 0.05) <= 5
    assert np.mean(with_age) > np.mean(without)
