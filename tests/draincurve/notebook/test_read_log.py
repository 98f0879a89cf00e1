from datetime import UTC, date, datetime, timedelta

import pandas as pd
import polars as pl
import pytest

import draincurve
from draincurve.pipeline.simulation.fleet_files import write_fleet
from draincurve.schemas.errors import SettingsError, SourceError
from draincurve.schemas.settings import Settings

TOMORROW = datetime.now(UTC).date() + timedelta(days=2)


def test_a_frame_a_file_and_an_arrow_table_are_read_alike(fleet, tmp_path):
    drains = pl.from_pandas(fleet.drains)
    write_fleet({"drains": drains}, tmp_path, kind="csv")
    read = {
        "pandas": fleet.drains,
        "polars": drains,
        "arrow": drains.to_arrow(),
        "path": tmp_path / "drains.csv",
        "text": str(tmp_path / "drains.csv"),
    }
    accepted = {name: draincurve.read(log, fleet.as_of).log.accepted["drains"] for name, log in read.items()}
    for name, rows in accepted.items():
        assert rows.drop("source", "line").equals(accepted["path"].drop("source", "line")), name


def test_rows_held_back_name_the_frame_and_the_row(fleet):
    drains = fleet.drains.astype({"oil_hours": object})
    drains.loc[3, "oil_hours"] = "ten or so"
    drains.loc[7, "rider"] = None
    log = draincurve.read(drains, fleet.as_of, units=fleet.units.assign(fill_ml=-1))
    assert isinstance(log.held_back, pd.DataFrame)
    held = log.held_back[["table", "source", "line", "column", "value"]].head(3).to_numpy().tolist()
    assert held[:2] == [
        ["drains", "drains frame", 4, "oil_hours", "ten or so"],
        ["drains", "drains frame", 8, "rider", ""],
    ]
    assert held[2][:4] == ["units", "units frame", 1, "fill_ml"]
    assert (
        repr(log)
        == f"<Log: 46 drains of 6 units; {2 + len(fleet.units)} rows held back, {len(log.asked)} asked about>"
    )
    assert (log.accounts["read"] == log.accounts["accepted"] + log.accounts["held_back"]).all()
    html = log._repr_html_()
    assert "ten or so" in html
    assert "Held back" in html


def test_a_name_from_the_log_cannot_write_html(fleet):
    drains = fleet.drains.assign(oil_hours="<script>alert(1)</script>")
    html = draincurve.read(pd.concat([drains.head(2), fleet.drains]), fleet.as_of)._repr_html_()
    assert "<script>" not in html
    assert "&lt;script&gt;" in html


def test_a_log_is_read_anew_only_where_something_else_is_given_with_it(fleet):
    log = draincurve.read(fleet.drains, "2026-06-20")
    assert log.log.as_of == date(2026, 6, 20)
    assert draincurve.plan(log).log is log
    changed = draincurve.plan(log, settings={"accepted_risk": 0.2}).log
    assert changed is not log
    assert (changed.settings.accepted_risk, changed.inputs.as_of) == (0.2, date(2026, 6, 20))


@pytest.mark.parametrize(
    "day", [date(2026, 6, 20), datetime(2026, 6, 20, 13, tzinfo=UTC), pd.Timestamp("2026-06-20"), "2026-06-20"]
)
def test_days(fleet, day):
    assert draincurve.read(fleet.drains, day).inputs.as_of == date(2026, 6, 20)


def test_today_is_the_day_where_none_is_given(fleet):
    before = datetime.now().astimezone().date()
    assert before <= draincurve.read(fleet.drains).inputs.as_of <= datetime.now().astimezone().date()


def test_settings_are_a_dict_or_settings_or_a_file(fleet, tmp_path):
    path = tmp_path / "policy.toml"
    path.write_text("accepted_risk = 0.2\n[limits]\ndebris_rating = 3\n")
    as_dict = {"accepted_risk": 0.2, "limits": {"debris_rating": 3}}
    found = [draincurve.read(fleet.drains, settings=given).settings for given in (path, str(path), as_dict)]
    assert found[0] == found[1] == found[2]
    assert found[0].limit_rating("debris") == 3
    assert draincurve.read(fleet.drains, settings=found[0]).settings is found[0]
    assert draincurve.read(fleet.drains).settings == Settings()


WRONG = {
    "a number": ({"log": 3}, SourceError, "log: found int; expected what `read` gave, a path, an address"),
    "a frame without the columns": ({"log": pd.DataFrame({"a": [1]})}, SourceError, "unit_id.* missing.*found .*'a'"),
    "an empty frame": ({"log": pd.DataFrame()}, SourceError, "drains frame: no row in it; expected one row"),
    "a missing file": ({"log": "gone.csv"}, SourceError, "gone.csv: no such file; check the name"),
    "a list of units": ({"units": ["F01"]}, SourceError, "units: found list; expected a path"),
    "a future day": ({"as_of": TOMORROW}, SettingsError, r"is in the future \(today is .*name a day up to today"),
    "a day in other words": ({"as_of": "20.6.2026"}, SettingsError, "expected a date such as '2026-06-20'"),
    "a number for a day": ({"as_of": 5}, SettingsError, "as_of = 5: expected a date"),
    "an unknown setting": ({"settings": {"acepted_risk": 0.1}}, SettingsError, "did you mean accepted_risk"),
    "half of the costs": ({"settings": {"costs": {"change": 1}}}, SettingsError, "needs both change and late"),
    "settings of another kind": ({"settings": 3}, SettingsError, "found int; expected a dict, Settings, or the path"),
    "no settings file": ({"settings": "gone.toml"}, SettingsError, "gone.toml: cannot be read"),
    "an unknown kind of frame": ({"frames": "arrow"}, SettingsError, "expected one of pandas, polars"),
}


@pytest.mark.parametrize(("given", "error", "said"), WRONG.values(), ids=WRONG)
def test_what_cannot_be_used_is_one_clear_error(fleet, given, error, said):
    with pytest.raises(error, match=said):
        draincurve.read(**({"log": fleet.drains} | given))


def test_a_table_of_drains_is_no_register(fleet, tmp_path):
    path = tmp_path / "drains.csv"
    write_fleet({"drains": pl.from_pandas(fleet.drains)}, tmp_path, kind="csv")
    in_other_words = fleet.drains.rename(columns={"drained_on": "date drained", "oil_hours": "oil hours"})
    for given, name in ((fleet.drains, "units frame"), (in_other_words, "units frame"), (path, "drains.csv")):
        with pytest.raises(SourceError, match=f"units: .*{name} has the columns of a table of drains .*one row for"):
            draincurve.read(fleet.drains, fleet.as_of, units=given)


def test_a_register_with_a_last_drain_of_each_unit_is_a_register(fleet):
    units = fleet.units.assign(drained_on="2026-05-01", oil_hours=12.0)
    assert len(draincurve.read(fleet.drains, fleet.as_of, units=units).accepted["units"]) == len(fleet.units)
