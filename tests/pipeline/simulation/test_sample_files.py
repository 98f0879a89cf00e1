from datetime import datetime
from pathlib import Path

import numpy as np
import openpyxl
import polars as pl
import pytest

from draincurve import sample_data
from draincurve.pipeline.simulation.fleet_files import write_fleet, write_sample
from draincurve.pipeline.simulation.fleet_tables import simulate_fleet
from draincurve.pipeline.simulation.scenarios import SCENARIOS, race_team
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.settings import read_settings

SAMPLES = Path(sample_data.__file__).parent


@pytest.mark.parametrize("name", SCENARIOS)
def test_committed_sample_is_what_the_simulator_writes(name, tmp_path):
    written = write_sample(name, tmp_path)
    committed = sorted(path.name for path in (SAMPLES / name).iterdir())
    assert sorted(path.name for path in written) == committed
    for path in written:
        kept = SAMPLES / name / path.name
        assert path.stat().st_size < 400_000
        if path.suffix == ".xlsx":
            assert cells_of(path) == cells_of(kept)
        else:
            assert path.read_bytes() == kept.read_bytes(), path.name


def test_a_workbook_repeats_byte_for_byte(tmp_path):
    first = write_sample("track_school", tmp_path / "a", units=6)
    again = write_sample("track_school", tmp_path / "b", units=6)
    assert [path.read_bytes() for path in first] == [path.read_bytes() for path in again]


def test_another_seed_is_another_fleet(tmp_path):
    write_sample("spring_trial", tmp_path / "a", seed=1)
    write_sample("spring_trial", tmp_path / "b", seed=2)
    assert (tmp_path / "a/drains.csv").read_bytes() != (tmp_path / "b/drains.csv").read_bytes()


@pytest.mark.parametrize("name", SCENARIOS)
@pytest.mark.parametrize(("units", "drains"), [(1, 1), (2, 30), (30, 60)])
def test_other_sizes_can_be_written(name, units, drains, tmp_path):
    assert all(path.exists() for path in write_sample(name, tmp_path, seed=5, units=units, drains=drains))


@pytest.mark.parametrize("name", SCENARIOS)
def test_settings_beside_a_sample_are_possible(name):
    assert 0 < read_settings(SAMPLES / name / "settings.toml").accepted_risk <= 0.1


def test_the_workbook_holds_numbers_and_dates_as_such(tmp_path):
    write_sample("track_school", tmp_path, units=6)
    book = openpyxl.load_workbook(tmp_path / "log.xlsx")
    assert book.sheetnames == ["drains", "units", "usage", "bookings"]
    header = [cell.value for cell in book["drains"][1]]
    first = dict(zip(header, (cell.value for cell in book["drains"][2]), strict=True))
    assert isinstance(first["drained_on"], datetime)
    assert isinstance(first["meter_hours"], int | float)
    assert isinstance(first["unit_id"], str)


@pytest.mark.parametrize("kind", ["csv", "parquet"])
def test_clean_tables_can_be_written_too(kind, tmp_path):
    fleet = simulate_fleet(race_team(), np.random.default_rng(1))
    written = write_fleet(fleet.tables, tmp_path, kind=kind, truth=fleet.truth)
    assert [path.name for path in written] == [f"{name}.{kind}" for name in fleet.tables] + ["truth.json"]
    read = pl.read_parquet if kind == "parquet" else pl.read_csv
    back = read(tmp_path / f"drains.{kind}")
    assert back["oil_hours"].to_list() == fleet.tables["drains"]["oil_hours"].to_list()


def test_an_unknown_kind_is_refused(tmp_path):
    with pytest.raises(SettingsError, match="csv, xlsx, parquet"):
        write_fleet({}, tmp_path, kind="ods")


def cells_of(path):
    book = openpyxl.load_workbook(path)
    return {sheet.title: [[cell.value for cell in row] for row in sheet] for sheet in book}
