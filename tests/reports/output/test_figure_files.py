"""Pictures as files: every one, as SVG and PNG, never outside the folder, an earlier run's taken away."""

from __future__ import annotations

import re
import struct
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from pathlib import Path

import polars as pl
import pytest
from invented_report import altered

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.output.figure_files import INDEX, named_pictures, write_figures
from draincurve.schemas.errors import SourceError

EVIL = "../../etc/passwd\x00/..\\C:\\x"


@pytest.fixture(scope="module")
def content(hostile_content: ReportContent) -> ReportContent:
    return hostile_content


@pytest.fixture(scope="module")
def folder(content: ReportContent, tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("out") / "deeper" / "figures"
    write_figures(content, folder)
    return folder


def png_size(path: Path) -> tuple[int, int]:
    """Width and height of a PNG. Source: W3C, PNG (third edition), section 11.2.1: the header chunk."""
    header = path.read_bytes()[:24]
    assert header[:8] == b"\x89PNG\r\n\x1a\n"
    assert header[12:16] == b"IHDR"
    return struct.unpack(">II", header[16:24])


def test_every_picture_of_the_report_is_there_twice_and_in_the_index(content: ReportContent, folder: Path) -> None:
    names = [name for name, _ in named_pictures(content)]
    assert len(names) == len(set(names)) > 10
    assert {item.name for item in folder.iterdir()} == {
        INDEX,
        *(f"{n}.{kind}" for n in names for kind in ("svg", "png")),
    }
    index = pl.read_csv(folder / INDEX)
    assert index["figure"].to_list() == names
    assert {"hours-on-the-oil-1", "colour-curve", "debris-multipliers"} <= set(names)
    assert sum(name.startswith("unit-") for name in names) == sum(unit.picture is not None for unit in content.units)


def test_png_is_the_svg_at_three_dots_a_pixel_on_white(content: ReportContent, folder: Path) -> None:
    for name, _ in named_pictures(content):
        root = ElementTree.parse(folder / f"{name}.svg").getroot()
        width, height = png_size(folder / f"{name}.png")
        assert width == pytest.approx(3 * float(root.attrib["width"]), abs=3)
        assert height == pytest.approx(3 * float(root.attrib["height"]), abs=3)


def test_no_id_leads_out_of_the_folder(few_units: PlanResult, tmp_path: Path) -> None:
    first = few_units.decided.next_service["unit_id"][0]

    def renamed(table: pl.DataFrame) -> pl.DataFrame:
        return table.with_columns(pl.col("unit_id").replace(first, EVIL))

    evil = altered(
        few_units,
        next_service=renamed(few_units.decided.next_service),
        drains=renamed(few_units.described.drains),
        unit_reasons=renamed(few_units.decided.unit_reasons),
    )
    write_figures(report_content(evil), tmp_path / "figures")
    assert [item.name for item in tmp_path.iterdir()] == ["figures"]
    assert all(re.fullmatch(r"[a-z0-9-]+\.(svg|png|csv)", item.name) for item in (tmp_path / "figures").iterdir())


def test_same_content_same_bytes(content: ReportContent, folder: Path, tmp_path: Path) -> None:
    write_figures(content, tmp_path / "again")
    assert {item.name: item.read_bytes() for item in folder.iterdir()} == {
        item.name: item.read_bytes() for item in (tmp_path / "again").iterdir()
    }


def test_pictures_of_an_earlier_run_go_and_what_is_not_ours_stays(
    race_content: ReportContent, tmp_path: Path
) -> None:
    folder = tmp_path / "figures"
    write_figures(replace(race_content, units=race_content.units[:2]), folder)
    before = {item.name for item in folder.iterdir()}
    (folder / "slides.odp").write_text("mine")
    (folder / "unit-of-mine.svg").write_text("mine")
    write_figures(replace(race_content, units=race_content.units[:1], channels=()), folder)
    now = {item.name for item in folder.iterdir()}
    assert {"slides.odp", "unit-of-mine.svg"} <= now
    gone = before - now
    assert any(name.startswith(race_content.units[1].row.anchor) for name in gone)
    assert {"colour-curve.svg", "colour-curve.png"} <= gone


def test_a_file_in_the_way_is_an_error(content: ReportContent, tmp_path: Path) -> None:
    (tmp_path / "figures").write_text("")
    with pytest.raises(SourceError, match="is a file"):
        write_figures(content, tmp_path / "figures")
