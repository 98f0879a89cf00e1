from html import unescape

import pandas as pd
import pytest

import draincurve

pytestmark = pytest.mark.usefixtures("trees_are_small")


def test_predictions_and_their_verdicts(fleet, tmp_path):
    tried = draincurve.backtest(fleet.drains, fleet.as_of, origins=1)
    assert isinstance(tried.predictions, pd.DataFrame)
    assert set(tried.predictions["channel"]) == {"colour", "debris"} == set(tried.verdicts)
    assert repr(tried) == f"<Backtest: {tried.summary}>"
    assert tried.verdicts["debris"] in unescape(tried._repr_html_())
    assert tried.report(tmp_path).read_text().startswith("<!doctype html>")
    assert len(pd.read_csv(tmp_path / "backtest.csv")) == len(tried.predictions)


def test_too_short_a_log_says_so(fleet):
    tried = draincurve.backtest(fleet.drains.head(3), fleet.as_of)
    assert isinstance(tried.result.rated, str)
    assert tried.summary == tried.result.rated
    assert tried.verdicts == {}
    assert len(tried.predictions) == 0


def test_measured_values_are_tried_beside_the_ratings(fleet):
    """Iron rises with the hours of each drain; a unit's own level shows from its second sample on."""
    samples = pd.DataFrame(
        {
            "unit_id": fleet.drains["unit_id"],
            "measured_on": fleet.drains["drained_on"],
            "quantity": "iron",
            "value": (10 + 2 * fleet.drains["oil_hours"] + fleet.drains.index % 3).round(1),
            "unit": "mg/kg",
        }
    )
    tried = draincurve.backtest(fleet.drains, fleet.as_of, measurements=samples, origins=1)
    rows = tried.measured_predictions
    assert set(rows["quantity"]) == {"iron"}
    assert (rows["score"] < rows["score_fleet"]).mean() > 0.8
    assert "iron" in tried.verdicts
    assert "90 % range: iron in the oil" in tried.summary
