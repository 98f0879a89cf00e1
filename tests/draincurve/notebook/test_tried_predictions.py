from html import unescape

import pandas as pd

import draincurve


def test_predictions_and_their_verdicts(fleet, tmp_path):
    tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    assert isinstance(tried.predictions, pd.DataFrame)
    assert set(tried.predictions["channel"]) == {"colour", "debris"} == set(tried.verdicts)
    assert repr(tried) == f"<TriedPredictions: {tried.summary}>"
    assert tried.verdicts["debris"] in unescape(tried._repr_html_())
    assert tried.report(tmp_path).read_text().startswith("<!doctype html>")
    assert len(pd.read_csv(tmp_path / "backtest.csv")) == len(tried.predictions)


def test_too_short_a_log_says_so(fleet):
    tried = draincurve.backtest(fleet.drains.head(3), fleet.as_of)
    assert isinstance(tried.result, str)
    assert tried.summary == tried.result
    assert tried.verdicts == {}
    assert len(tried.predictions) == 0
