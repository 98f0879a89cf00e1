from dataclasses import replace

import pytest

from draincurve.pipeline.simulation.fleet_plan import ChannelPlan, FleetPlan, Level, PlantedUnit, UnitSign
from draincurve.pipeline.simulation.scenarios import SCENARIOS, race_team, resized, scenario
from draincurve.schemas.errors import SettingsError

CURVE = ChannelPlan("debris", (4.0, 5.8, 7.6, 9.3))


@pytest.mark.parametrize(
    ("changes", "message"),
    [
        ({"units": 0}, "at least 1"),
        ({"drains": 1}, "each needs at least one"),
        ({"shocks": 9}, "9 shocks among 4 units"),
        ({"link": "loglog"}, "expected one of logit, probit, cloglog"),
        ({"channels": ()}, "no channel"),
        ({"channels": (replace(CURVE, channel="smell"),)}, "channel smell is unknown; channels are colour, debris"),
        ({"springs": (Level("Plain 46", {"smell": 0.7}),)}, "channel smell is unknown"),
        ({"channels": (replace(CURVE, thresholds=(1.0, 2.0, 2.0, 3.0)),)}, "four ascending"),
        ({"channels": (replace(CURVE, thresholds=(1.0, 2.0)),)}, "four ascending"),
        ({"channels": (replace(CURVE, hours_slope=0.0),)}, "above 0"),
        ({"riders": ()}, "need one each"),
        ({"planted": (PlantedUnit(4, 0.5),)}, "is missing"),
        ({"signs": (UnitSign(0, "rust"),)}, "milky, burnt, leak"),
        ({"unit_tail_df": 2.0}, "above 2"),
    ],
)
def test_impossible_plan_is_refused_with_a_reason(changes, message):
    with pytest.raises(SettingsError, match=message):
        replace(FleetPlan("small", 4, 20, (CURVE,)), **changes)


def test_unknown_scenario_lists_the_possible_ones():
    with pytest.raises(SettingsError, match="race_team, spring_trial, track_school"):
        scenario("rally")


@pytest.mark.parametrize("name", SCENARIOS)
@pytest.mark.parametrize(("units", "drains"), [(1, None), (3, 40), (None, 500), (50, None)])
def test_resized_scenario_is_possible(name, units, drains):
    plan = SCENARIOS[name].plan()
    other = resized(plan, units, drains=drains)
    assert other.units == (units or plan.units)
    assert other.drains == (drains or max(other.units, round(plan.drains * other.units / plan.units)))


def test_not_resized_is_the_same_plan():
    assert resized(race_team(), None, drains=None) == race_team()
