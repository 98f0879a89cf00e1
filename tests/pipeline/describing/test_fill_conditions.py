import numpy as np
import polars as pl
import pytest
from described_log import accepted
from scipy.integrate import quad

from draincurve.pipeline.describing.fill_conditions import (
    LARGEST_SHORTFALL,
    carry_over,
    mean_freshness,
    settling,
    state_conditions,
    with_conditions,
)


def value(expression):
    return pl.select(expression).item()


@pytest.mark.parametrize(("start", "end"), [(0.0, 10.0), (3.0, 15.0), (100.0, 120.0), (0.0, 0.01)])
def test_freshness_is_the_mean_over_the_fill(start, end):
    exact = quad(lambda s: np.exp(-s / 5), start, end)[0] / (end - start)
    assert value(mean_freshness(pl.lit(start), pl.lit(end))) == pytest.approx(exact, rel=1e-9)


def test_freshness_of_a_spring_put_in_during_the_fill_counts_from_its_own_start():
    assert value(mean_freshness(pl.lit(-6.0), pl.lit(4.0))) == value(mean_freshness(pl.lit(0.0), pl.lit(4.0)))
    assert value(mean_freshness(pl.lit(0.0), pl.lit(0.0))) == pytest.approx(1.0, abs=1e-6)


def test_carry_over_is_the_log_of_what_old_oil_does_in_the_long_run():
    """Debris is multiplied by 1 / (1 - f): 10 % left behind 1.11, 20 % 1.25, 30 % 1.43 (derived)."""
    found = [np.exp(value(carry_over(pl.lit(share)))) for share in (0.0, 0.1, 0.2, 0.3)]
    assert found == pytest.approx([1.0, 1.11, 1.25, 1.43], abs=0.005)
    assert value(carry_over(pl.lit(-0.1))) == 0.0
    assert value(carry_over(pl.lit(0.9))) == value(carry_over(pl.lit(LARGEST_SHORTFALL)))


def test_settling_is_a_log():
    assert value(settling(pl.lit(0.0))) == 0.0
    assert value(settling(pl.lit(1.0))) == pytest.approx(np.log(2))


def test_what_is_left_behind_works_on_the_next_fill_of_the_same_unit():
    log = accepted(drained_ml=[450.0] + [500.0] * 23)
    found = with_conditions(log)["carry_over"].to_list()
    assert found[0] == 0.0
    assert found[1] == pytest.approx(-np.log(0.9))
    assert found[2:] == pytest.approx([0.0] * 22)


def test_old_oil_that_is_asked_about_explains_no_dirt():
    log = accepted(drained_ml=[350.0, 350.0] + [500.0] * 22).with_columns(
        pl.Series("return_in_question", [True, False] + [False] * 22)
    )
    found = with_conditions(log)["carry_over"].to_list()
    assert found[1] == 0.0
    assert found[2] == pytest.approx(-np.log(0.7))


def test_a_rebuild_leaves_nothing_behind():
    log = accepted(drained_ml=450.0, service_kind=["rebuild"] + ["oil"] * 23)
    assert with_conditions(log)["carry_over"][1] == 0.0
    assert with_conditions(log)["carry_over"][2] > 0


def test_a_top_up_is_no_drain_and_hands_nothing_on():
    log = accepted(drained_ml=[450.0, 300.0] + [500.0] * 22, service_kind=["oil", "top-up"] + ["oil"] * 22)
    found = with_conditions(log)
    assert found.height == 23
    assert found["carry_over"][1] == pytest.approx(-np.log(0.9))


def test_drains_are_put_in_order_of_unit_and_date():
    log = accepted()
    assert with_conditions(log.reverse()).equals(with_conditions(log))


def test_in_the_fit_what_is_unknown_is_no_excuse():
    """No run-in, no carry-over, no settling: dirt is put down to the hours."""
    unknown = with_conditions(accepted(drained_ml=None, spring_hours=None, settle_hours=None))
    assert unknown["settling"].to_list() == unknown["freshness"].to_list() == unknown["carry_over"].to_list()
    assert unknown["settling"].to_list() == [0.0] * 24


def state(**columns):
    plain = {
        "unit_key": ["a", "b", "c"],
        "spring_hours_now": [0.0, 40.0, None],
        "last_shortfall": [0.02, 0.2, None],
        "part_age_now": [0.0, 300.0, 80.0],
    }
    return pl.DataFrame(plain | columns, schema={"unit_key": pl.String} | dict.fromkeys(list(plain)[1:], pl.Float64))


def test_in_the_answer_what_is_unknown_is_the_dirtier_case():
    found = state_conditions(state(), 0.167, usual_hours=12.0)
    assert found["freshness"][2] == found["freshness"][0] > found["freshness"][1]
    assert found["carry_over"][2] >= found["carry_over"][0]
    assert found["carry_over"][2] == pytest.approx(-np.log(1 - np.quantile([0.02, 0.2], 0.9)), abs=0.03)
    assert found["settling"].to_list() == pytest.approx([np.log1p(0.167)] * 3)
    assert found["part_age"].to_list() == [0.0, 300.0, 80.0]


def test_where_no_volume_is_known_nothing_is_left_behind():
    """The fit then knew no carry-over either, so the average is already in its thresholds."""
    found = state_conditions(state(last_shortfall=[None, None, None]), 0.167, usual_hours=12.0)
    assert found["carry_over"].to_list() == [0.0, 0.0, 0.0]
