import numpy as np
import pytest
from spring_logs import crossed, drains_frame, rated

from draincurve.pipeline.describing.fill_conditions import with_conditions
from draincurve.pipeline.judging.estimable_contrasts import WIDEST
from draincurve.pipeline.judging.springs.identifiability import design_columns, separation


def separated(rows, first="Stepped", second="Plain"):
    return separation(design_columns(with_conditions(drains_frame(rows))), first, second=second)


def riders(rows, name):
    return [row | {"rider": name(place, row)} for place, row in enumerate(rows)]


def test_a_crossed_log_separates_at_no_cost():
    found = separated(rated(crossed(8, 12), 1))
    assert found.separable
    assert found.widening < 1.1


def test_a_rider_who_goes_with_the_spring_forbids_it():
    rows = riders(rated(crossed(8, 12), 1), lambda _, row: row["spring_type"] + "'s rider")
    found = separated(rows)
    assert found.widening == np.inf
    assert found.by == ("rider",)
    assert not found.together


def test_a_chain_over_a_third_spring_separates():
    """Ann rides A and C, Bo rides B and C: A against B is estimable through C, though they share no rider."""
    plan = [("A", "Ann"), ("C", "Ann"), ("C", "Bo"), ("B", "Bo")] * 10
    rows = [
        {"unit_id": f"F{place % 5}", "spring_type": spring, "rider": rider}
        for place, (spring, rider) in enumerate(plan)
    ]
    found = separated(rated(rows, 2), "A", "B")
    assert np.isfinite(found.widening)
    assert found.separable


def test_two_columns_that_only_together_hide_a_spring():
    """Stepped is what two riders rode in one oil each: the rider or the oil alone leaves it open."""
    plan = [("Jost", "Fork 5"), ("Sunna", "Fork 5"), ("Jost", "Fork 7"), ("Varn", "Fork 7")]
    rows = []
    for place in range(40):
        rider, oil = plan[place % 4]
        spring = "Stepped" if (rider, oil) in (("Sunna", "Fork 5"), ("Jost", "Fork 7")) else "Plain"
        rows.append({"unit_id": f"F{place % 7}", "spring_type": spring, "rider": rider, "oil_grade": oil})
    found = separated(rated(rows, 3))
    assert found.widening == np.inf
    assert found.together
    assert set(found.by) == {"rider", "oil_grade"}


def test_the_widening_is_that_of_least_squares():
    """Against the variance of the contrast from numpy's pseudo-inverse, all else in and out; one drain a day."""
    rows = riders(
        rated(crossed(8, 12), 1),
        lambda place, row: "Jost" if row["spring_type"] == "Stepped" or place % 3 else "Sunna",
    )
    frame = with_conditions(drains_frame(rows))
    spring = (frame["spring_type"] == "Stepped").to_numpy().astype(float)
    rider = (frame["rider"] == "Jost").to_numpy().astype(float)
    hours = np.log(frame["oil_hours"].to_numpy())
    ones = np.ones(frame.height)
    bare = np.linalg.pinv(np.column_stack((spring, ones)).T @ np.column_stack((spring, ones)))[0, 0]
    day = (frame["drained_on"] - frame["drained_on"].min()).dt.total_days().to_numpy()
    begins = [
        *range(0, 96, 8),
        *(day[spring == s].min() for s in (0, 1)),
        *(day[spring == s].max() + 1 for s in (0, 1)),
    ]
    periods = np.unique(begins) <= day[:, None]
    full = np.column_stack((spring, ones, rider, hours, frame["part_age"].to_numpy() / 100.0, periods))
    wide = np.linalg.pinv(full.T @ full)[0, 0]
    found = separation(design_columns(frame), "Stepped", second="Plain")
    assert found.widening == pytest.approx(np.sqrt(wide / bare), rel=1e-8)
    assert found.by == ("rider",)
    assert 1.0 < found.widening < WIDEST


def test_a_blank_is_a_level_of_its_own():
    rows = [row | {"surface": "mud" if row["spring_type"] == "Stepped" else None} for row in rated(crossed(6, 8), 1)]
    assert separated(rows).by == ("surface",)
