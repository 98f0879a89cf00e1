"""Which drains are of oil that the spring does not run in."""

import polars as pl
import pytest

from draincurve.pipeline.describing.spring_in_oil import INNER, SHOCK, springless, with_shocks_marked


def said(unit_id="F07", chamber=None, machine=None, position=None):
    drains = pl.DataFrame(
        {"unit_key": ["k"], "unit_id": [unit_id], "machine": [machine], "chamber": [chamber]},
        schema_overrides={"machine": pl.String, "chamber": pl.String},
    )
    units = pl.DataFrame({"unit_key": ["k"], "position": [position]}, schema_overrides={"position": pl.String})
    marked = with_shocks_marked(drains, units)
    assert marked.columns == [*drains.columns, "on_shock"]
    return marked.select(springless(marked)).item()


@pytest.mark.parametrize("chamber", ["inner", " Inner ", "cartridge", "Damper"])
def test_inner_oil_does_not_touch_the_spring(chamber):
    assert said(chamber=chamber) == INNER
    assert said(chamber=chamber, position="rear") == INNER


@pytest.mark.parametrize(
    "where",
    [
        {"position": "rear"}, {"position": "Rear shock"}, {"position": "monoshock"}, {"machine": "bike 3 shock"},
        {"unit_id": "Shock 4"}, {"unit_id": "rear-07"}, {"machine": "coil-over bench"},
    ],
)  # fmt: skip
def test_a_shock_carries_its_spring_outside(where):
    assert said(**where) == SHOCK
    assert said(chamber="single", **where) == SHOCK
    assert said(chamber="outer", **where) is None, "who says that it is the outer chamber has looked"


@pytest.mark.parametrize(
    "where", [{}, {"position": "left"}, {"machine": "Shockley 450"}, {"unit_id": "Rearden"}, {"chamber": "outer"}]
)
def test_forks_are_no_shocks(where):
    assert said(**where) is None


def test_a_log_without_register_or_machine():
    drains = pl.DataFrame({"unit_key": ["a", "b"], "unit_id": ["F1", "Shock 2"], "chamber": [None, None]})
    marked = with_shocks_marked(drains, None)
    assert marked["on_shock"].to_list() == [False, True]
    assert drains.select(springless(drains)).to_series().to_list() == [None, None], "not asked, not known"
