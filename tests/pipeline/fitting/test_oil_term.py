"""Oils by viscosity where that is better supported and can be distinguished, else by name, and always said."""

from datetime import date, timedelta

import numpy as np
import polars as pl
import pytest

from draincurve.pipeline.describing.oil_viscosity import VISCOSITY, with_viscosity
from draincurve.pipeline.describing.rated_drains import describe_channel
from draincurve.pipeline.fitting.channel_fit import fit_channel
from draincurve.pipeline.fitting.oil_term import choose_oil_term
from draincurve.pipeline.judging.channel_result import viscosity_sentences
from draincurve.schemas.settings import Settings

THRESHOLDS = np.array([3.3, 5.2, 7.0, 8.7])
SLOPE = 2.4
KV40 = {"Fork 2": 9.0, "Fork 5": 16.0, "Fork 7": 26.0, "Fork 10": 34.0, "Fork 15": 52.0, "Fork 20": 70.0}


def oil_log(effects, seed=1, units=8, drains=14):
    """Accepted drains; effects : grade to log hours multiplier."""
    rng = np.random.default_rng(seed)
    rows = []
    for unit in range(units):
        for drain in range(drains):
            grade = str(rng.choice(list(effects)))
            hours = float(np.round(rng.uniform(6, 24), 1))
            rating = int(1 + np.searchsorted(THRESHOLDS, SLOPE * (np.log(hours) - effects[grade]) + rng.logistic()))
            rows.append(
                {
                    "unit_key": f"u{unit}", "unit_id": f"u{unit}", "oil_hours": hours, "oil_grade": grade,
                    "drained_on": date(2025, 1, 1) + timedelta(days=10 * drain), "filled_ml": None,
                    "drained_ml": None, "settle_hours": None, "spring_hours": None, "debris_low": rating,
                    "debris_high": rating, "colour_low": None, "colour_high": None, "spring_type": "Plain 46",
                    "rider": "Brask", "rated_by": None, "surface": None, "site": None, "service_kind": "oil",
                    "line": len(rows) + 2,
                }
            )  # fmt: skip
    numbers = ("filled_ml", "drained_ml", "settle_hours", "spring_hours")
    texts = ("rated_by", "surface", "site")
    schema = dict.fromkeys(numbers, pl.Float64) | dict.fromkeys(texts, pl.String)
    return pl.DataFrame(rows, schema_overrides=schema | {"colour_low": pl.Int64, "colour_high": pl.Int64})


def oils(**changed):
    known = KV40 | {name.replace("_", " "): value for name, value in changed.items()}
    return pl.DataFrame(
        {"oil_grade": list(known), "kv40": list(known.values())}, schema_overrides={"kv40": pl.Float64}
    )


def state(*grades):
    return pl.DataFrame({"oil_grade": grades or ("Fork 5",)}, schema={"oil_grade": pl.String})


def by_line(grades=KV40, slope=0.4):
    return {name: slope * np.log(KV40[name] / 25.0) for name in grades}


def test_viscosity_that_explains_all_takes_the_place_of_the_names():
    log = oil_log(by_line(), units=16, drains=24)
    found = choose_oil_term(log, state(), oils=oils(), settings=Settings())
    assert found.oils is not None
    assert "compared by their viscosity" in found.description
    fit = fit_channel(
        describe_channel(with_viscosity(log, found.oils), "debris"), Settings(), rng=np.random.default_rng(1)
    )
    columns = [term.column for term in fit.drains.terms]
    assert VISCOSITY in columns
    assert "oil_grade" not in columns
    (sentence,) = viscosity_sentences([fit])
    low, high = (float(sentence.split(f" {word} ")[1].split(" ")[0].rstrip(").")) for word in ("range", "to"))
    assert low < 2**0.4 < high, sentence


def test_names_stay_where_grades_of_one_viscosity_differ():
    effects = {name: (-1) ** at * 0.7 for at, name in enumerate(KV40)}
    found = choose_oil_term(oil_log(effects), state(), oils=oils(), settings=Settings())
    assert found.oils is None
    assert "by name, which makes the ratings" in found.description


@pytest.mark.parametrize(
    ("grades", "runs", "changed", "said"),
    [
        (("Fork 5", "Fork 7"), (), {}, "fewer than 3 grades"),
        (("Fork 5", "Fork 7", "Fork 10"), (), {"Fork_7": None}, "not known of Fork 7"),
        (("Fork 5", "Fork 7", "Fork 10"), ("New oil",), {}, "not known of New oil"),
        (("Fork 5", "Fork 7", "Fork 10"), (None,), {}, "not known which oil some unit runs"),
        (("Fork 5", "Fork 7", "Fork 10"), (), {"Fork_5": 20, "Fork_7": 20, "Fork_10": 20}, "all that ran are of one"),
    ],
)
def test_names_stay_where_the_two_cannot_be_told_apart(grades, runs, changed, said):
    found = choose_oil_term(
        oil_log(by_line(grades), drains=3), state(*runs), oils=oils(**changed), settings=Settings()
    )
    assert found.oils is None
    assert said in found.description


def test_without_a_catalogue_nothing_is_said_or_changed():
    log = oil_log(by_line(), drains=3)
    for none in (None, oils().clear()):
        found = choose_oil_term(log, state(), oils=none, settings=Settings())
        assert (found.oils, found.description) == (None, "")
    assert with_viscosity(log, None) is log
    assert "oil_grade" in [term.column for term in describe_channel(log, "debris").terms]


def test_oils_that_do_not_matter_keep_their_names():
    """One number would win over many by being one, but it has to win over none as well."""
    found = choose_oil_term(oil_log(by_line(slope=0.0), units=12), state(), oils=oils(), settings=Settings())
    assert found.oils is None
    assert "does not show that viscosity alone tells them apart" in found.description
