"""What the page says about turned units, raters and links: words, pictures, escaping, and nothing to say."""

from datetime import date

import numpy as np
import polars as pl
import pytest
from matplotlib.figure import Figure
from page_part import page_part

from draincurve.pipeline.fitting.rater_drift import RaterDrift
from draincurve.pipeline.judging.changepoints.alarm_threshold import AlarmThreshold
from draincurve.pipeline.judging.changepoints.unit_changepoints import UnitChangepoints
from draincurve.pipeline.judging.channel_trust import ChannelTrust
from draincurve.pipeline.judging.clean_bounds import CleanBounds
from draincurve.pipeline.judging.link_choice import LinkChoice, LinkScore
from draincurve.pipeline.judging.raters.rater_agreement import Kappa, RaterAgreement
from draincurve.pipeline.judging.raters.rater_result import (
    HARSHER,
    NO_CLEAR_DIFFERENCE,
    NOT_SEPARATED,
    RaterFinding,
    RaterResult,
)
from draincurve.pipeline.judging.raters.rater_shift import RaterShift
from draincurve.reports.content.sections.link_sections import link_sections
from draincurve.reports.content.sections.rater_section import rater_section
from draincurve.reports.content.sections.turned_section import turned_section
from draincurve.reports.content.unit_names import anchor

AS_OF = date(2026, 6, 20)
HOSTILE = "<b>F&02</b>"


THRESHOLD = AlarmThreshold(3.4, 220.0, 0.03)


def turned(any_turned: bool = True, threshold: AlarmThreshold | None = THRESHOLD):
    days = np.array(["2026-01-10", "2026-02-10", "2026-03-10", "2026-04-10", "2026-05-10"], dtype="datetime64[D]")
    verdicts = pl.DataFrame(
        {
            "unit_key": ["F01", HOSTILE, "F03"],
            "turned": [False, any_turned, None],
            "turned_since": [None, date(2026, 3, 10) if any_turned else None, None],
            "signalled_on": [None, date(2026, 5, 10) if any_turned else None, None],
            "channels": [None, ["colour", "debris"] if any_turned else None, None],
            "share_of_threshold": [0.1, 1.3, 0.0],
        },
        schema_overrides={"channels": pl.List(pl.String)},
    )
    return UnitChangepoints(
        channels=("colour", "debris"),
        unit_keys=("F01", HOSTILE, "F03"),
        starts=np.array([0, 5, 10, 15]),
        drained_on=np.tile(days, 3),
        sums=np.array([0, 0, 0.3, 0, 0, 0, 0, 1.5, 3.0, 4.4, 0, 0, 0, 0, 0]),
        threshold=threshold,
        verdicts=verdicts,
    )


def finding(name: str, verdict: str, compared_with: tuple[str, ...] = ("KB",), drift: RaterDrift | None = None):
    separable = verdict != NOT_SEPARATED
    points = (1.0, 0.7, 1.3) if verdict == HARSHER else (0.0, -0.2, 0.2)
    shift = RaterShift(
        name,
        40,
        10,
        8 if separable else 0,
        compared_with if separable else (),
        (0.6, 0.5, 0.8) if separable else None,
        points if separable else None,
        np.empty(0),
    )
    return RaterFinding(shift, drift, verdict, f"{name} was judged {verdict}.")


def raters() -> RaterResult:
    drift = RaterDrift("MO", 0.9, 3.5, 0.0005, 0.001)
    findings = (
        finding("TW", HARSHER),
        finding("MO", NO_CLEAR_DIFFERENCE, drift=drift),
        finding(HOSTILE, NOT_SEPARATED),
    )
    shared = (
        RaterAgreement("debris", "KB", "TW", 24, 16, 0.5, Kappa(0.71, 0.1, 0.52, 0.9)),
        RaterAgreement("debris", "KB", "MO", 3, 3, 0.0, Kappa(None, None, None, None)),
    )
    return RaterResult("debris", "", findings, shared)


def links() -> LinkChoice:
    scores = (
        LinkScore("probit", "log-normal", 0.0, 0.0, 12.0),
        LinkScore("logit", "log-logistic", -1.2, 1.9, 12.6),
        LinkScore("cloglog", "Weibull", -9.0, 3.0, 9.5),
    )
    return LinkChoice("debris", "logit", scores, 300, 200, 12, HOSTILE, "Fork 5", ("First sentence.", "Second."))


def trust(**changes) -> ChannelTrust:
    given = {
        "channel": "debris",
        "raters": raters(),
        "links": links(),
        "bounds": CleanBounds("debris", 4, 30, 0, 10, 0, 0.095, 0.259),
    }
    return ChannelTrust(**(given | changes))


def test_turned_units_are_named_with_their_dates_and_drawn():
    section = turned_section(Figure(), turned(), in_service={"F01", HOSTILE}, as_of=AS_OF)
    assert [(line.name, line.since, line.signalled) for line in section.lines] == [(HOSTILE, "10 Mar", "10 May")]
    page = page_part("turned", turned=section)
    assert "<b>F&02" not in page
    assert f'href="#{anchor(HOSTILE)}"' in page
    assert "colour and debris</td>" in page
    assert "3 units" not in page
    assert "2 units watched by colour and debris together" in page
    assert "turned above this" in page
    assert "one false alarm in 220 drains" in page
    assert "lists about 0.1 units" in page


def test_a_turned_unit_out_of_service_has_no_link():
    page = page_part("turned", turned=turned_section(Figure(), turned(), in_service={"F01"}, as_of=AS_OF))
    assert "not in service" in page
    assert "href" not in page.split("<table>")[1].split("</table>")[0]


@pytest.mark.parametrize(
    ("given", "said"),
    [(turned(False), "No unit was found to have changed"), (turned(False, None), "No unit has enough drains")],
)
def test_nothing_turned_is_said_and_is_no_clearance(given, said):
    page = page_part("turned", turned=turned_section(Figure(), given, in_service=set(), as_of=AS_OF))
    assert said in page
    assert "Not listed does not mean fit to ride" in page
    assert "<svg" not in page


def test_months_are_spread_over_years():
    days = np.arange(np.datetime64("2021-01-15"), np.datetime64("2026-01-15"), 200)
    one = turned()
    long = UnitChangepoints(
        one.channels,
        (HOSTILE,),
        np.array([0, days.size]),
        days,
        np.linspace(0, 5, days.size),
        one.threshold,
        one.verdicts.filter(pl.col("unit_key") == HOSTILE),
    )
    page = page_part("turned", turned=turned_section(Figure(), long, in_service=set(), as_of=AS_OF))
    assert "Feb 2021" in page
    assert page.count("Feb 20") <= 5


def test_raters_are_named_with_levels_hours_drift_and_agreement():
    section = rater_section(Figure(), [trust()])
    assert section.named == ("Debris: TW was judged harsher.", "Debris: MO was judged no clear difference.")
    assert section.rows[0].levels == "+1.0 (+0.7 to +1.3)"
    assert "+1.0 (+0.7 to +1.3)" in str(section.picture.svg)
    assert section.rows[0].multiplier.startswith("0.60x")
    assert section.rows[1].drift == "drifts, +0.9 levels a year"
    assert (section.rows[2].levels, section.rows[2].units) == ("", "0 of 10")
    assert [row.kappa for row in section.agreements] == ["0.71 (0.52 to 0.90)", "cannot tell yet"]
    page = page_part("raters", raters=section)
    assert "<b>F&02" not in page
    assert "Raters compared" in page
    assert "compared only where they rated the same units" in page


def test_raters_who_cannot_be_compared_say_why():
    why, eye = (
        "only KB is named as rater, so raters cannot be compared",
        "The limits follow the eye of KB.",
    )
    result = RaterResult("debris", why, (), (), eye)
    page = page_part("raters", raters=rater_section(Figure(), [trust(raters=result)]))
    assert f"Debris: {eye}" in page
    assert "Debris: Only KB is named as rater, so raters cannot be compared." in page
    assert "agreement cannot be measured" in page
    assert "<svg" not in page


def test_links_show_the_best_the_one_in_use_and_the_bounds():
    sections = link_sections([trust()])
    assert [row.difference for row in sections[0].rows] == ["best", "-1.2 (± 1.9)", "-9.0 (± 3.0)"]
    assert [row.used for row in sections[0].rows] == [False, True, False]
    page = page_part("links", links=sections)
    assert "200 units of 300" in page
    assert "9.5 %" in page
    assert "<b>F&02" not in page


def test_without_a_fit_there_are_only_the_reason_and_the_bounds():
    bare = trust(raters=None, links="no drain with known hours has a debris rating")
    page = page_part("links", links=link_sections([bare]))
    assert "No drain with known hours has a debris rating." in page
    assert "None of 30 drains" in page
    assert rater_section(Figure(), [bare]).rows == ()
    assert turned_section(Figure(), None, in_service=set(), as_of=AS_OF).lines == ()
    assert "No channel is rated" in page_part("links", links=link_sections([]))
