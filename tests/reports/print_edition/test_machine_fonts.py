"""Letters that the program's fonts lack: from a font of the machine, or said to be missing, never a silent box."""

from __future__ import annotations

import io
from collections.abc import Iterator
from pathlib import Path

import polars as pl
import pytest
from invented_font import write_font
from invented_report import altered
from matplotlib.figure import Figure
from PIL import Image
from printed_text import squeezed, whole_text

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.figures.svg_picture import inline_picture
from draincurve.reports.print_edition import machine_fonts
from draincurve.reports.print_edition.machine_fonts import fonts_for, letters_of
from draincurve.reports.print_edition.report_pdf import printed_report
from draincurve.reports.print_edition.typesetting import drawn_as_png
from draincurve.reports.print_edition.work_list_pdf import printed_work_list

HAN = "前叉"
NAMES = {"F05": HAN, "F02": "Вилка", "F10": "Πιρούνι", "F03": "شوكة", "F04": "🏍 1"}


@pytest.fixture
def machine(monkeypatch: pytest.MonkeyPatch) -> Iterator[list[Path]]:
    """The fonts that are installed, none at first."""
    fonts: list[Path] = []
    monkeypatch.setattr(machine_fonts, "_machine_fonts", lambda: tuple(fonts))
    fonts_for.cache_clear()
    yield fonts
    fonts_for.cache_clear()


def named(report: PlanResult) -> PlanResult:
    def renamed(table: pl.DataFrame) -> pl.DataFrame:
        return table.with_columns(pl.col("unit_id").replace(NAMES))

    decided, drains = report.decided, renamed(report.described.drains)
    return altered(
        report,
        drains=drains.with_columns(pl.col("unit_id").alias("unit_key")),
        next_service=renamed(decided.next_service),
        unit_reasons=renamed(decided.unit_reasons),
        inspect_now=renamed(decided.inspect_now),
    )


@pytest.fixture(scope="module")
def content(race_team: PlanResult) -> ReportContent:
    return report_content(named(race_team))


def test_cyrillic_greek_and_arabic_are_the_programs_own(machine: list[Path]) -> None:
    assert fonts_for(letters_of(["Вилка", "Πιρούνι", "شوكة", "Größe µ ½ ▲ …"])).missing == frozenset()


def test_marks_without_a_glyph_need_none() -> None:
    assert letters_of(["a\u00a0b\u200b\u2068\u2069\u200d\ufe0f\ufffd", "plain"]) == frozenset()


def test_what_no_font_has_is_said_and_is_no_box(machine: list[Path], content: ReportContent) -> None:
    printed = printed_report(content)
    said = "No font on this machine has Chinese or Japanese characters"
    assert printed.unprinted.startswith(f"{said} and some symbols: they are printed as \ufffd.")
    assert squeezed(printed.unprinted) in whole_text(printed.pdf)
    for pdf in (printed.pdf, printed_work_list(content)):
        text = whole_text(pdf)
        assert squeezed(said) in text
        assert "Вилка" in text
        assert HAN not in text
    assert "Πιρούνι" in whole_text(printed.pdf)


def test_what_a_font_of_the_machine_has_is_printed(
    machine: list[Path], content: ReportContent, tmp_path: Path
) -> None:
    machine.append(write_font(tmp_path / "han.ttf", HAN, "Invented Han"))
    machine.append(write_font(tmp_path / "symbols.ttf", "🏍", "Invented Symbols"))
    printed = printed_report(content)
    assert printed.unprinted == ""
    text = whole_text(printed.pdf)
    assert text.count(HAN) >= 3
    assert "\ufffd" not in text


def test_pictures_are_drawn_with_the_same_fonts(machine: list[Path], tmp_path: Path) -> None:
    figure = Figure(figsize=(1.0, 0.5))
    figure.text(0.1, 0.3, HAN, fontsize=20)
    picture = inline_picture(figure, "p", title="t", description="d")
    without = drawn_as_png([picture])
    machine.append(write_font(tmp_path / "han.ttf", HAN, "Invented Han"))
    fonts_for.cache_clear()
    assert drawn_as_png([picture]) != without
    image = Image.open(io.BytesIO(drawn_as_png([picture])[0])).convert("L")
    assert sum(image.histogram()[:128]) > 500, "two filled triangles"


def test_the_fewest_fonts_are_taken_and_a_broken_one_is_passed_over(machine: list[Path], tmp_path: Path) -> None:
    (tmp_path / "broken.ttf").write_bytes(b"no font")
    one = write_font(tmp_path / "one.ttf", HAN[0], "One")
    both = write_font(tmp_path / "two.ttf", HAN, "Two")
    bold = write_font(tmp_path / "two-Bold.ttf", HAN, "Two Bold")
    machine += [tmp_path / "broken.ttf", one, bold, both, tmp_path / "gone.ttf"]
    found = fonts_for(letters_of([HAN]))
    assert (found.machine, found.missing, found.text) == ((both,), frozenset(), "")
