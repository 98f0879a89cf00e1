"""The section of one channel: what is said of each multiplier."""

from __future__ import annotations

from dataclasses import replace

import pytest
from matplotlib.figure import Figure

from draincurve.pipeline.judging import Multiplier, PriorMovement
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.sections.channel_sections import channel_section


@pytest.mark.parametrize(
    ("multiplier", "posterior_sd", "meaning"),
    [
        ((0.7, 0.5, 0.9), 0.2, "fewer hours"),
        ((1.0, 0.8, 1.2), 0.2, "no clear difference"),
        ((37.0, 7.0, 1644.0), 0.2, "more hours; range too wide to rely on"),
        ((1.0, 0.8, 1.2), 0.95, "no clear difference; mostly the prior's, not the log's"),
    ],
)
def test_a_multiplier_says_what_to_doubt(
    race_team: PlanResult, multiplier, posterior_sd: float, meaning: str
) -> None:
    channel = replace(
        race_team.judged.channels[0],
        multipliers=(Multiplier("spring type", "Coil", 40, 5, *multiplier),),
        prior_movement=(PriorMovement("spring type", "effect of spring type", 1.0, posterior_sd),),
    )
    (row,) = channel_section(Figure(), channel, accepted_risk=0.1).multiplier_rows
    assert row.meaning == meaning


def test_what_the_log_did_not_move_is_named_once(race_team) -> None:
    moved = [("hours slope", "how fast ratings rise with hours (log)", 0.95), ("rider", "effect of rider", 0.91)]
    moved += [("sd between units", "how much units differ (log)", 0.2), ("site", "effect of site", 1.02)]
    channel = replace(
        race_team.judged.channels[0], prior_movement=tuple(PriorMovement(*words, 1.0, sd) for *words, sd in moved)
    )
    assert channel_section(Figure(), channel, accepted_risk=0.1).unmoved == (
        "The log cannot tell hours apart; stagger some changes to shorter and longer hours.",
        "Still 0.91 times or more as wide as before the log, so these values are mostly the prior's, not the log's: "
        "effect of rider; effect of site.",
    )
