"""What a way of draining leaves, where volumes are not known: no excuse in the fit, no gain in the prediction."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from described_log import accepted

from draincurve.pipeline.describing.drain_methods import most_left_behind
from draincurve.pipeline.describing.fill_conditions import with_conditions
from draincurve.pipeline.describing.fleet_state import fleet_state
from draincurve.pipeline.describing.rated_drains import describe_channel


def drained(method, volumes=None):
    """The invented log with a way of draining; `volumes` is drained_ml of each drain."""
    log = accepted() if volumes is None else accepted(drained_ml=volumes)
    return log.with_columns(pl.lit(method, dtype=pl.String).alias("drain_method"))


def carried(log):
    return np.exp(with_conditions(log)["carry_over"].to_numpy()[1:4])


@pytest.mark.parametrize(
    ("method", "least"),
    [("Poured", 0.08), ("pumped through", 0.02), ("stripped", 0.0), ("by hand", 0.0), (None, 0.0)],
)
def test_in_the_fit_it_is_the_least_that_is_common(method, least):
    assert carried(drained(method)) == pytest.approx([1 / (1 - least)] * 3)


def test_volumes_stand_over_the_way_of_draining():
    assert carried(drained("poured", [475.0] * 24)) == pytest.approx([1 / 0.95] * 3)


@pytest.mark.parametrize(
    ("method", "most"),
    [("poured", 0.20), ("pumped through", 0.06), ("stripped", 0.0), ("by hand", None), (None, None)],
)
def test_in_the_prediction_it_is_the_most_that_is_common(method, most):
    known = add_log(fleet_columns(drained(method)))
    assert known["last_shortfall"].to_list() == [most] * 6
    assert most_left_behind(method) == most


def fleet_columns(log):
    """The columns that the state of a fleet needs besides."""
    absent = {
        "machine": pl.String,
        "chamber": pl.String,
        "milky": pl.Boolean,
        "burnt": pl.Boolean,
        "leak": pl.Boolean,
    }
    return log.with_columns(pl.lit(None, dtype=kind).alias(name) for name, kind in absent.items())


def add_log(log):
    return fleet_state(log, None, as_of=date(2026, 6, 1))


def test_a_volume_that_is_not_known_is_never_cleaner_than_the_fleets_worst():
    """Ten per cent stayed in every unit; one loses its volumes, and pumping through would explain only six."""
    volumes = [450.0] * 20 + [None] * 4
    state = add_log(fleet_columns(drained("pumped through", volumes)))
    assert state["last_shortfall"].to_list() == pytest.approx([0.1] * 6)


def test_ways_of_draining_alone_let_the_fit_speak_of_old_oil():
    log = drained(None).with_columns(
        pl.Series("drain_method", ["poured" if at % 3 else "pumped through" for at in range(24)])
    )
    assert "carry_over" in [term.column for term in describe_channel(log, "debris").terms]
    (said,) = [
        item.reason
        for item in describe_channel(drained(None), "debris").left_out
        if item.term == "old oil left behind"
    ]
    assert said == "the log does not give it for the drains rated for this (no drained_ml and no drain_method)"
