"""report.pdf read back: everything is there, hostile text is text, the same bytes every time."""

from __future__ import annotations

import dataclasses
import io
from pathlib import Path

import polars as pl
import pytest
from empty_pictures import empty_pictures
from invented_report import AS_OF, HOSTILE, altered, without_units
from printed_text import copied_pages, filled_shares, page_texts, squeezed, whole_text
from pypdf import PdfReader

from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content.fleet_counts import SiteCounts
from draincurve.reports.content.report_content import ReportContent, report_content
from draincurve.reports.content.sections.forecast_section import ForecastRow, ForecastSection
from draincurve.reports.content.sections.legs_section import LegRow, LegsSection
from draincurve.reports.content.sections.oils_section import OilRow, OilsSection
from draincurve.reports.content.sections.volume_section import VolumeRow, VolumeSection
from draincurve.reports.content.sections.wear_section import QuantitySection, WearRow, WearSection
from draincurve.reports.content.trade_words import CAUTIONS
from draincurve.reports.print_edition import first_page, report_pdf
from draincurve.reports.print_edition.machine_fonts import UNPRINTED, fonts_for, letters_of
from draincurve.reports.print_edition.report_pdf import MOST_ROWS, edition_values, printed_report, write_pdf
from draincurve.reports.print_edition.typesetting import typeset
from draincurve.reports.print_edition.unit_choice import ALL_UP_TO, MOST_DUE
from draincurve.schemas.channels import CHANNELS

MARKUP = "#panic(1) *b* _i_ $x^2$ \\ `c` @all-units <all-units> = h // c [ ] #{ \ud800\x07\u202e 🏁"


@pytest.fixture(scope="module")
def content(race_content: ReportContent) -> ReportContent:
    return race_content


@pytest.fixture(scope="module")
def pdf(content: ReportContent) -> bytes:
    return printed_report(content).pdf


@pytest.fixture(scope="module")
def text(pdf: bytes) -> str:
    return whole_text(pdf)


def test_headline_units_and_cautions_are_there(content: ReportContent, text: str, race_team: PlanResult) -> None:
    assert squeezed(content.first.headline) in text
    for unit in race_team.decided.next_service["unit_id"]:
        assert text.count(unit) >= 3, "hours, table and section"
    for line in (*CAUTIONS, *(level for channel in CHANNELS for level in channel.scale)):
        assert squeezed(line) in text


def test_a_unit_to_inspect_is_marked_in_the_table_and_over_its_section(content: ReportContent) -> None:
    signs = {line.name for line in content.first.inspect}
    values = edition_values(content)
    for rows in (values["rows"], values["units"]["sections"]):
        assert {row["name"] for row in rows if row["due"] == "inspect now"} == signs != set()


def test_what_to_know_before_acting_stands_on_the_first_page(content: ReportContent, pdf: bytes) -> None:
    first = page_texts(pdf)[0]
    missing = [line.subject for line in content.first.trust if squeezed(line.text) not in first]
    assert missing == []


def test_every_row_held_back_is_there_with_line_value_and_reason(race_team: PlanResult, pdf: bytes) -> None:
    appendix = page_texts(pdf)[-2:]
    for row in race_team.log.held_back.iter_rows(named=True):
        place = f"{row['line']}{row['unit_id'] or ''}{row['day'] or ''}"
        cells = squeezed(f"{place}{row['column']}{row['value'] or 'empty'}{row['reason']}")
        assert any(cells in page for page in appendix), row


@pytest.fixture(scope="module")
def fuller_text(race_team: PlanResult) -> str:
    """The text of an edition with a very long row held back, and with every section that the invented fleet lacks."""
    long_value = "".join(f"word{index} " for index in range(3000))
    held = race_team.log.held_back.head(1).with_columns(pl.lit(long_value).alias("value"))
    worn = WearRow("F01", "unit-f01-nowhere", "0.31 on 2 May", "41 h (35 to 52)", "35 h", "2.0 h", past_limit=True)
    channel = QuantitySection("wear-0", "Bush play, mm", ("It grows.",), ("Aside.",), True, (worn,), "", None)
    week = ForecastRow("1 to 7 Jun", ("3 (1 to 5)", "1.2 l"), total=False)
    leg = LegRow("bike 1", "F01", "unit-nowhere", "F02", "", "0.6x", "left faster", "a worn bush", urgent=True)
    lost = VolumeRow("F03", "", "leak", "12 (8 to 16)", "0.8", "more with hours", urgent=True)
    with empty_pictures():
        content = report_content(altered(race_team, held_back=held))
    fuller = dataclasses.replace(
        content,
        sites=(SiteCounts("North hall", 2000, 12, 40, 7, 1),),
        shown_note="16 of 5000 units are shown here.",
        wear=WearSection((channel,), ("shim stack, 3 readings",), ("rod wear",)),
        forecast=ForecastSection(("Services", "Oil"), (week,), ("Ordered early.",), None),
        legs=LegsSection((leg,), ("Was F05 written as F06 on 2 May?",), (), ""),
        volume=VolumeSection((lost,), ()),
        oils=OilsSection(("Oil", "kv40", "Basis"), (OilRow(("Fork 5", "16.1", "given"), "light"),), ()),
    )
    return whole_text(printed_report(fuller).pdf)


def test_a_row_held_back_is_never_cut_however_long(fuller_text: str) -> None:
    missing = [index for index in range(3000) if f"word{index}" not in fuller_text]
    assert missing == []


def test_every_page_has_its_number_the_log_and_the_day(content: ReportContent, pdf: bytes) -> None:
    pages = page_texts(pdf)
    assert len(pages) > 5
    for number, page in enumerate(pages, start=1):
        assert f"{number}/{len(pages)}" in page
        assert squeezed(content.result.log.name) in page
        assert "asofWed13May2026" in page
        assert squeezed(CAUTIONS[0]) in page


def test_no_page_but_the_last_is_half_empty(pdf: bytes) -> None:
    *shares, _ = filled_shares(pdf, top_mm=18, bottom_mm=16)
    assert min(shares) > 0.62


def test_it_has_title_language_tags_and_bookmarks(pdf: bytes, race_team: PlanResult) -> None:
    # ISO 32000-1, 14.7 and 14.8: Lang, MarkInfo and StructTreeRoot of the catalogue make a tagged PDF.
    reader = PdfReader(io.BytesIO(pdf))
    assert reader.metadata is not None
    assert reader.metadata.title == f"Next service, 13 May 2026 · {race_team.log.name}"
    assert reader.root_object["/Lang"] == "en-GB"
    assert reader.root_object["/MarkInfo"]["/Marked"]
    assert "/StructTreeRoot" in reader.root_object
    titles = [item.title for level in reader.outline for item in (level if isinstance(level, list) else [level])]
    assert {"All units", "Unit by unit", "Rows held back, rows asked about"} <= set(titles)
    assert set(race_team.decided.next_service["unit_id"]) <= set(titles)
    assert {(round(page.mediabox.width), round(page.mediabox.height)) for page in reader.pages} == {(595, 842)}


def test_an_assistive_reader_can_read_it(content: ReportContent) -> None:
    # ISO 14289-1 (PDF/UA-1), by the checks of the typesetter: alternatives of pictures, title, order of headings,
    # and no letter without a glyph.
    made = typeset("report.typ", edition_values(content), day=AS_OF, standards=["ua-1"])
    assert made.pdf.startswith(b"%PDF")


def test_same_content_same_bytes_wherever_it_runs(
    content: ReportContent, pdf: bytes, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TZ", "Asia/Kolkata")
    write_pdf(content, tmp_path / "report.pdf")
    assert (tmp_path / "report.pdf").read_bytes() == pdf
    assert str(Path.home()).encode() not in pdf


@pytest.fixture(scope="module")
def hostile_pdf(hostile_content: ReportContent) -> bytes:
    return printed_report(hostile_content).pdf


@pytest.fixture(scope="module")
def hostile_text(hostile_pdf: bytes) -> str:
    return whole_text(hostile_pdf)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_ids_are_text(hostile_text: str, hostile: str) -> None:
    if any(letter in hostile for letter in "شأ"):
        assert "أمامي" in hostile_text, "letters of a right-to-left id, in the order they are drawn in"
    else:
        without_font = fonts_for(letters_of([hostile])).missing
        printed = hostile.translate(dict.fromkeys(map(ord, without_font), UNPRINTED))
        assert hostile_text.count(squeezed(printed)) >= 2


def test_no_mark_for_the_templates_is_left_in_copied_text(hostile_pdf: bytes) -> None:
    pages = copied_pages(hostile_pdf)
    copied = "".join(pages)
    assert not set(copied) & {"\u200b", "\u2068", "\u2069"}
    assert copied.count(CAUTIONS[0]) >= len(pages), "words can be searched for as they are written"


def test_markup_is_text_wherever_a_log_can_put_it(race_team: PlanResult) -> None:
    spoilt = pl.lit(MARKUP.replace("\ud800", ""))
    result = altered(
        race_team,
        name=MARKUP,
        held_back=race_team.log.held_back.with_columns(spoilt.alias("value"), spoilt.alias("reason")),
        remarks=race_team.log.remarks.with_columns(spoilt.alias("message")),
        unit_reasons=race_team.decided.unit_reasons.with_columns(spoilt.alias("why")),
        drains=race_team.described.drains.with_columns(spoilt.alias("note"), spoilt.alias("rider")),
        inspect_now=race_team.decided.inspect_now.with_columns(spoilt.alias("signs")),
        left_out=tuple(dataclasses.replace(item, reason=MARKUP) for item in race_team.described.left_out),
        warnings=(MARKUP,),
    )
    with empty_pictures():
        content = report_content(result)
    text = whole_text(printed_report(content).pdf)
    assert text.count(squeezed("#panic(1) *b* _i_ $x^2$ \\ `c` @all-units <all-units> = h // c [ ] #{")) > 30


def test_measured_values_are_printed_with_what_to_inspect(fuller_text: str) -> None:
    assert "F010.31on2May41h(35to52)35h2.0h" in fuller_text
    assert "shimstack,3readings" in fuller_text
    assert "nolimit,lineormissingreadingsaysthataunitisfittoride" in fuller_text


@pytest.mark.parametrize(
    "said",
    [
        "1 to 7 Jun 3 (1 to 5) 1.2 l",
        "bike 1 F01 F02 0.6x left faster a worn bush",
        "Was F05 written as F06 on 2 May?",
        "F03 leak 12 (8 to 16) 0.8 more with hours",
        "Fork 5 16.1 given light",
    ],
)
def test_findings_over_the_fleet_are_printed(fuller_text: str, said: str) -> None:
    assert squeezed(said) in fuller_text


def test_every_section_of_the_report_is_handed_to_print(content: ReportContent) -> None:
    sources = "".join(Path(module.__file__ or "").read_text() for module in (report_pdf, first_page))
    missing = [item.name for item in dataclasses.fields(content) if f"content.{item.name}" not in sources]
    assert missing == []


def test_a_large_fleet_is_counted_site_by_site(fuller_text: str) -> None:
    assert squeezed("North hall 2000 12 40 7 1") in fuller_text
    assert squeezed("16 of 5000 units are shown here.") in fuller_text


def test_of_very_many_rows_held_back_the_others_are_counted(race_team: PlanResult) -> None:
    held = pl.concat([race_team.log.held_back.head(1)] * (MOST_ROWS + 7))
    with empty_pictures():
        values = edition_values(report_content(altered(race_team, held_back=held)))
    assert len(values["held_back"]) == MOST_ROWS
    assert values["held_back_more"] == "7 more rows in held_back.csv."


def test_an_empty_fleet_still_makes_an_edition(race_team: PlanResult) -> None:
    text = whole_text(printed_report(report_content(without_units(race_team))).pdf)
    assert "Nounitisinservice." in text
    assert "Norowwasheldback." in text


def test_a_large_fleet_has_all_units_in_its_table_and_says_which_have_sections(
    track_school: PlanResult, track_school_content: ReportContent
) -> None:
    text = whole_text(pdf := printed_report(track_school_content).pdf)
    assert "Of120unitsinservice," in text
    assert str(MOST_DUE) in text
    assert ALL_UP_TO < 120
    for unit in track_school.decided.next_service["unit_id"]:
        assert unit in text
    assert len(pdf) < 3_000_000
