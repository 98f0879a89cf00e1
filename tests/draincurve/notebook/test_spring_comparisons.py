import pandas as pd
import pytest

import draincurve
from draincurve.schemas.spring_effects_table import VERDICTS


@pytest.fixture(scope="module")
def found():
    fleet = draincurve.simulate("spring_trial", seed=1, units=6, drains=60)
    return draincurve.compare_springs(fleet.drains, fleet.as_of, units=fleet.units)


def test_each_channel_and_pair_has_a_verdict(found):
    assert isinstance(found.effects, pd.DataFrame)
    assert set(found.effects["channel"]) == {"colour", "debris"}
    assert set(found.effects["verdict"]) <= set(VERDICTS)
    assert sum(
        int(part.split()[0])
        for part in repr(found).removeprefix("<SpringComparisons: ").removesuffix(">").split(", ")
    ) == len(found.effects)


def test_it_prints_the_table_of_the_command_and_every_reason(found):
    pair = found.comparisons.comparisons[0].pairs[0]
    assert str(found).startswith("colour:\n  spring")
    assert f"{pair.spring_type} against {pair.compared_with}: {pair.reason}" in str(found)
    assert "<table" in found._repr_html_()


def test_a_log_with_one_spring_has_nothing_to_compare():
    fleet = draincurve.simulate("spring_trial", seed=1, units=4, drains=24, frames="polars")
    one = draincurve.compare_springs(fleet.drains.to_pandas().assign(spring_type="Plain 46"), fleet.as_of)
    assert repr(one) == "<SpringComparisons: no pair to compare>"
    assert len(one.effects) == 0
