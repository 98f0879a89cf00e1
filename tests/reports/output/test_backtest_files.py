import json
import re
from datetime import date

import polars as pl
import pytest

from draincurve.pipeline.judging.backtest.backtest_verdicts import (
    channel_verdict,
    first_screen_sentence,
    holding_sentence,
)
from draincurve.pipeline.judging.backtest.channel_backtest import BacktestResult, ChannelBacktest
from draincurve.pipeline.judging.backtest.interval_coverage import IntervalCoverage
from draincurve.pipeline.judging.backtest.log_backtest import LogBacktest
from draincurve.pipeline.judging.backtest.quantity_backtest import MeasuredBacktest, QuantityBacktest, RangeCoverage
from draincurve.pipeline.judging.backtest.risk_calibration import CalibrationBin, RiskCheck
from draincurve.pipeline.judging.backtest.score_comparison import RivalScore
from draincurve.reports.output.backtest_files import BACKTEST_FILES, write_backtest
from draincurve.reports.page.backtest_page import backtest_html
from draincurve.schemas.errors import ContractError, SourceError

AS_OF = date(2026, 6, 20)
ORIGINS = (date(2026, 1, 10), date(2026, 4, 2))


def rows(unit="F01"):
    numbers = {"p1": 0.1, "p2": 0.2, "p3": 0.3, "p4": 0.25, "p5": 0.15, "p_past_limit": 0.4, "score": 0.1}
    row = {
        "unit_id": unit,
        "site": None,
        "drained_on": date(2026, 4, 20),
        "oil_hours": 12.5,
        "channel": "colour",
        "origin": ORIGINS[1],
        "rating_low": 3,
        "rating_high": 4,
        "past_limit": None,
        **numbers,
        "score_fleet": 0.12,
        "score_fleet_by_hours": 0.11,
        "score_boosted": None,
    }
    kinds = {"site": pl.String, "past_limit": pl.Int64, "score_boosted": pl.Float64}
    return pl.DataFrame([row], schema_overrides=kinds)


def channel(difference=-0.02, low=-0.03, high=-0.01, past=5, name="colour"):
    fleet = RivalScore("the fleet's ratings so far", 0.12, difference, low, high)
    whole, within = RiskCheck(60, past, 6.0, 0.03, 0.18), RiskCheck(30, 1, 1.4, 0.001, 0.17)
    if past > 15:
        whole = RiskCheck(60, past, 6.0, 0.2, 0.5)
    score = 0.12 + difference
    return ChannelBacktest(
        channel=name,
        limit=4,
        accepted_risk=0.1,
        origins=ORIGINS,
        drains=60,
        units=9,
        score=score,
        fleet=fleet,
        fleet_by_hours=fleet,
        boosted=None,
        bins=(CalibrationBin(0.01, 0.1, 0.05, 30, 1, 0.006, 0.17), CalibrationBin(0.1, 0.4, 0.2, 30, 4, 0.05, 0.3)),
        whole=whole,
        within_risk=within,
        coverage=(IntervalCoverage(0.9, 0.88, 0.8, 0.95, 20, 1, 0.8, 0, 3),),
        brier=0.08,
        spiegelhalter_z=0.3,
        verdict=channel_verdict(score, fleet, whole=whole, within=within),
    )


def result(*channels, **changes):
    return BacktestResult(channels or (channel(),), (), None, changes.pop("rows", rows()))


def measured(past=3, fleet=(-1.5, -2.0, -1.0), understated=False):
    rival = RivalScore("the fleet's readings so far", 4.6, *fleet)
    iron = QuantityBacktest(
        name="iron",
        title="Iron in the oil",
        unit="mg/kg",
        score_unit="mg/kg",
        origins=ORIGINS,
        readings=41,
        units=9,
        score=3.1,
        fleet=rival,
        fleet_by_hours=rival,
        coverage=(RangeCoverage(0.5, 21 / 41, 0.35, 0.65), RangeCoverage(0.9, 37 / 41, 0.77, 0.96)),
        worse=RiskCheck(41, past, 4.1, 0.01, 0.2),
        understated=understated,
    )
    row = {
        "unit_id": "F01",
        "site": None,
        "measured_on": date(2026, 4, 20),
        "quantity": "iron",
        "unit": "mg/kg",
        "clock_h": 12.0,
        "origin": ORIGINS[1],
        "value": 31.0,
        "bound": None,
        "low": 20.0,
        "middle": 30.0,
        "high": 40.0,
        "p_under": 0.55,
        "score": 1.4,
        "score_fleet": 3.0,
        "score_fleet_by_hours": 2.0,
    }
    rows = pl.DataFrame([row], schema_overrides={"site": pl.String, "bound": pl.String})
    without = (("Copper in the oil", "the log has 3 readings with known hours"),)
    return MeasuredBacktest((iron,), without, None, rows)


def test_measured_values_stand_beside_the_ratings(tmp_path):
    write_backtest(LogBacktest(result(), measured()), tmp_path, log_name="log.csv", as_of=AS_OF)
    assert {item.name for item in tmp_path.iterdir()} == {*BACKTEST_FILES, "backtest_measured.csv"}
    assert pl.read_csv(tmp_path / "backtest_measured.csv")["high"].to_list() == [40.0]
    record = json.loads((tmp_path / "backtest.json").read_text(encoding="utf-8"))["measured"]
    assert record["quantities"][0]["worse"]["past"] == 3
    assert record["without"] == {"Copper in the oil": "the log has 3 readings with known hours"}
    page = (tmp_path / "backtest.html").read_text(encoding="utf-8")
    assert "The 90 % range held 37 of 41 readings. 3 of 41 were worse than the accepted risk allows; 4.1" in page
    assert "Earlier predictions of colour came closer than the fleet&#39;s ratings." in page


def test_a_measured_quantity_in_doubt_heads_the_page():
    for doubted in (measured(past=12, understated=True), measured(fleet=(1.5, 1.0, 2.0))):
        assert "Do not rely on its wear" in doubted.sentence
        page = backtest_html("the log has 3 rated drains", "log.csv", as_of=AS_OF, measured=doubted)
        assert "Earlier predictions did not all hold." in page
    assert "Wear was understated: 12 of 41" in measured(past=12, understated=True).sentence
    assert LogBacktest("no drains", measured()).sentences[1] == (
        "Later readings inside their 90 % range: iron in the oil 37 of 41."
    )


def test_reasons_not_to_trust_the_answers_come_first():
    assert first_screen_sentence(result()) is None
    assert "score 0.100 against 0.120" in holding_sentence(result())
    lost = first_screen_sentence(result(channel(0.01, -0.01, 0.03)))
    assert "was no closer than the fleet's ratings alone" in lost
    assert "did worse than" in first_screen_sentence(result(channel(0.02, 0.01, 0.03)))
    assert "60 later drains, 20 were past the limit, where 6.0 were expected" in first_screen_sentence(
        result(channel(past=20))
    )
    for unsure, words in ((0.01, "not more than by chance"), (None, "too few units to tell")):
        early = result(channel(-0.01, None if unsure is None else -0.03, unsure))
        assert holding_sentence(early).startswith("Too early to say")
        assert words in holding_sentence(early)
        assert "It is too early to say" in backtest_html(early, "log.csv", as_of=AS_OF)


def test_a_tie_counts_as_lost():
    assert channel(0.0, -0.01, 0.01).model_loses


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ((-0.02, -0.03, -0.01), "Closer than the fleet's ratings alone, by more than chance"),
        ((-0.02, -0.03, 0.01), "the difference may be chance"),
        ((-0.02, None, None), "too few units to tell"),
        ((0.01, -0.01, 0.03), "No closer than"),
        ((0.02, 0.01, 0.03), "Worse than"),
    ],
)
def test_verdicts(given, words):
    assert words in channel(*given).verdict


def test_the_page_is_one_file_escaped_and_the_same_every_time():
    name = '<script>alert("x")</script>.csv'
    page = backtest_html(result(channel(), channel(name="debris")), name, as_of=AS_OF)
    assert page == backtest_html(result(channel(), channel(name="debris")), name, as_of=AS_OF)
    assert "<script" not in page
    assert "&lt;script&gt;" in page
    assert not re.search(r'(?:src|href)="(?!#|data:)', page)
    assert "Earlier predictions of colour and debris came closer than the fleet&#39;s ratings." in page
    identities = re.findall(r' id="([^"]+)"', page)
    assert len(identities) == len(set(identities))
    assert "5.0 %: 1 of 30 drains past the limit" in page


def test_the_page_says_when_predictions_did_not_hold():
    page = backtest_html(result(channel(past=20)), "log.csv", as_of=AS_OF)
    assert "Earlier predictions did not all hold." in page
    assert "Caution:" in page


def test_files_are_written_beside_existing_ones(tmp_path):
    (tmp_path / "report.html").write_text("mine", encoding="utf-8")
    write_backtest(LogBacktest(result(), None), tmp_path, log_name="log.csv", as_of=AS_OF)
    assert {item.name for item in tmp_path.iterdir()} == {*BACKTEST_FILES, "report.html"}
    record = json.loads((tmp_path / "backtest.json").read_text(encoding="utf-8"))
    assert record["channels"][0]["model_loses"] is False
    assert record["channels"][0]["origins"] == ["2026-01-10", "2026-04-02"]
    assert record["doubt"] is None
    table = pl.read_csv(tmp_path / "backtest.csv")
    assert table["past_limit"].to_list() == [None]
    assert table["p5"].to_list() == [0.15]


def test_nothing_to_try_is_written_as_a_reason(tmp_path):
    write_backtest(LogBacktest("the log has 3 rated drains", None), tmp_path, log_name="log.csv", as_of=AS_OF)
    assert json.loads((tmp_path / "backtest.json").read_text(encoding="utf-8"))["why_not"].endswith("3 rated drains")
    assert "could not be tested: The log has 3 rated drains." in (tmp_path / "backtest.html").read_text("utf-8")
    assert pl.read_csv(tmp_path / "backtest.csv").height == 0


def test_a_broken_table_is_refused_before_anything_is_written(tmp_path):
    broken = rows().with_columns(pl.lit(0.9).alias("p1"))
    with pytest.raises(ContractError, match="the probabilities sum to 1"):
        write_backtest(LogBacktest(result(rows=broken), None), tmp_path / "out", log_name="log.csv", as_of=AS_OF)
    assert not (tmp_path / "out").exists()


def test_a_file_in_the_way_is_one_clear_line(tmp_path):
    (tmp_path / "out").write_text("a file", encoding="utf-8")
    with pytest.raises(SourceError, match="name a folder you may write to"):
        write_backtest(LogBacktest(result(), None), tmp_path / "out", log_name="log.csv", as_of=AS_OF)


def test_text_like_a_formula_is_made_safe(tmp_path):
    write_backtest(LogBacktest(result(rows=rows("=cmd")), None), tmp_path, log_name="log.csv", as_of=AS_OF)
    assert "'=cmd" in (tmp_path / "backtest.csv").read_text(encoding="utf-8")
