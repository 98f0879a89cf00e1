"""Published degradation data as the measurements of a log, through `draincurve.plan`: when do they meet their limits?

Sources and numbers as in published/degradation.json: lasers of Meeker & Escobar (1998), Statistical Methods for
Reliability Data, table C.17, limit 10 % more current, fits by lme4; cracks of reliawiki.com (Degradation Data
Analysis), limit 30 mm, with the Weibull distribution of the five extrapolated lives. One unit more, which was never
measured, shows the distribution of the population.
"""

import csv
import json
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri

import draincurve

PUBLISHED = Path(__file__).with_name("published")
ENTRIES = json.loads((PUBLISHED / "degradation.json").read_text(encoding="utf-8"))
BEGIN = date(2025, 1, 1)
NEW = "never measured"


def channel(readings, limit, range_factor):
    """The wear channel of readings (unit, hours, value), whose drains say nothing."""
    units = [*dict.fromkeys(unit for unit, _, _ in readings), NEW]
    shared = {"drained_on": BEGIN, "oil_grade": "Fork 5", "spring_type": "Plain 46", "rider": "Brask"}
    drains = [
        {"unit_id": unit, "oil_hours": 10 + at % 5, "debris_rating": 1 + at % 3, **shared}
        for at, unit in enumerate(units)
    ]
    days = {hours: BEGIN + timedelta(days=at) for at, hours in enumerate(sorted({one[1] for one in readings}))}
    measured = [
        {"unit_id": unit, "measured_on": days[hours], "quantity": "degradation", "value": value, "unit": "points",
         "component_hours": hours}
        for unit, hours, value in readings
    ]  # fmt: skip
    settings = {"wear_limits": {"degradation": f"over {limit} points"}, "data_range_factor": range_factor}
    plan = draincurve.plan(
        pd.DataFrame(drains), max(days.values()), measurements=pd.DataFrame(measured), settings=settings
    )
    assert len(plan.held_back) == 0
    (found,) = plan.decided.wear.quantities
    return found, {unit.unit_id: unit for unit in found.units}


def test_hours_to_ten_percent_of_the_lasers():
    with (PUBLISHED / "gaas_laser.csv").open(encoding="utf-8") as lines:
        readings = [(row["unit"], float(row["hours"]), float(row["increase"])) for row in csv.DictReader(lines)]
    found, units = channel(readings, 10, 2.5)
    lme4 = ENTRIES["laser_slope_REML"]["expected"]
    assert found.fit.level[0] == pytest.approx(lme4["fixef"]["(Intercept)"], rel=1e-4)
    assert 1000 * found.fit.slope[0] == pytest.approx(lme4["fixef"]["khours"], rel=1e-6)
    assert 1000 * found.fit.unit_slope_sd == pytest.approx(lme4["sdcor"]["unit khours NA"], rel=1e-3)
    assert found.fit.noise_sd == pytest.approx(lme4["sdcor"]["Residual NA NA"], rel=1e-3)
    for name, hours in ENTRIES["laser_time_to_limit"]["expected"]["hours"].items():
        if hours < 4000.0:
            assert units[name].past_limit, "its last reading, at 4000 h, is past the limit"
        else:
            assert units[name].line_low < hours < units[name].line_high
            assert units[name].line_middle == pytest.approx(hours, rel=0.02)
    # The published line with a random slope and no intercept: 10 % are reached after 10 / slope.
    origin = ENTRIES["laser_origin_REML"]["expected"]
    slope, sd = origin["fixef"]["khours"], origin["sdcor"]["unit khours NA"]
    published = 1000 * 10 / (slope - ndtri(np.array([0.05, 0.5, 0.95])) * sd)
    of_new = np.array([units[NEW].line_low, units[NEW].line_middle, units[NEW].line_high])
    assert of_new[:2] == pytest.approx(published[:2], rel=0.04)
    assert of_new[2] == pytest.approx(published[2], rel=0.1)
    assert of_new[0] < published[0], "fifteen lasers do not tell the population's ends exactly"
    assert of_new[2] > published[2]


def test_cycles_to_thirty_millimetres_of_crack():
    """Lengths grow by a factor, so their logs are measured; cycles stand for hours."""
    expected = ENTRIES["reliawiki_crack"]["expected"]
    readings = [
        (name, float(cycles), float(np.log(length)))
        for name, lengths in expected["mm"].items()
        for cycles, length in zip(expected["cycles"], lengths, strict=True)
    ]
    _, units = channel(readings, float(np.log(30)), 2.0)
    for name, own in expected["units"].items():
        if own["x30"] > 500.0:
            assert units[name].line_low < own["x30"] < units[name].line_high
            assert units[name].line_middle == pytest.approx(own["x30"], rel=0.05)
    beta, eta = expected["weibull_beta"], expected["weibull_eta"]
    low, middle, high = eta * (-np.log1p(-np.array([0.05, 0.5, 0.95]))) ** (1 / beta)
    assert units[NEW].line_middle == pytest.approx(middle, rel=0.05)
    assert units[NEW].line_low < low
    assert units[NEW].line_high is None or units[NEW].line_high > high
