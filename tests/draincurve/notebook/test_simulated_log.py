import pandas as pd
import polars as pl
import pytest

import draincurve
from draincurve.pipeline.simulation.fleet_files import write_sample
from draincurve.schemas.errors import SettingsError, SourceError


def test_the_same_seed_gives_the_fleet_that_the_command_writes(tmp_path):
    fleet = draincurve.simulate("spring_trial", seed=5, units=4, drains=20, frames="polars")
    write_sample("spring_trial", tmp_path, seed=5, units=4, drains=20)
    assert fleet.units["unit_id"].to_list() == pl.read_csv(tmp_path / "units.csv")["unit_id"].to_list()
    assert fleet.drains["drained_on"].cast(str).to_list()[0] in (tmp_path / "drains.csv").read_text()
    assert fleet.truth["seed"] == 5
    assert fleet.settings["accepted_risk"] == 0.10


def test_kinds_of_frames():
    for frames, kind in (("pandas", pd.DataFrame), ("polars", pl.DataFrame)):
        fleet = draincurve.simulate(units=2, drains=6, frames=frames)
        assert all(isinstance(table, kind) for table in (fleet.drains, fleet.units, fleet.usage, fleet.bookings))
        assert len(fleet.drains) == 6
    with pytest.raises(SettingsError, match="frames = 'arrow': expected one of pandas, polars"):
        draincurve.simulate(frames="arrow")
    with pytest.raises(SettingsError, match=r"scenario 'race' is unknown; possible are race_team"):
        draincurve.simulate("race")
    for name in ("seed", "units", "drains"):
        with pytest.raises(SourceError, match=rf"^{name}: found str; expected a whole number$"):
            draincurve.simulate(**{name: "12"})
