"""Measured wear in run.json: the fleet's statistical limit as numbers, null where there is none."""

from types import SimpleNamespace

import polars as pl
import pytest

from draincurve.pipeline.deciding import QuantityWear, WearResult
from draincurve.pipeline.judging import FleetLimit
from draincurve.reports.output.run_record import wear_record

LIMIT = FleetLimit("over", 0.95, 60.0, 55.0, 71.0, 55.0, "percentile", 80, 9, 0.11)


@pytest.mark.parametrize(("limit", "said"), [(LIMIT, (55.0, 9, 0.11)), ("there are too few", None)])
def test_the_fleets_limit_and_the_share_it_flags(limit, said):
    channel = QuantityWear(
        name="iron", title="Iron", meaning="", unit="mg/kg", clock="oil", worse="rising", limit=None,
        readings=pl.DataFrame(), why_not=None, left_out=(), fit=None, fleet_line=None, unit_lines={}, units=(),
        looks=None, fleet_limit=limit, farthest_h=None,
    )  # fmt: skip
    wear = WearResult((channel,), (), (), pl.DataFrame(), pl.DataFrame())
    record = wear_record(SimpleNamespace(decided=SimpleNamespace(wear=wear, parts=None)))
    found = record["wear"]["quantities"][0]["fleet_limit"]
    assert (found and (found["look_from"], found["beyond"], found["flagged"])) == said
    assert record["parts"] is None
