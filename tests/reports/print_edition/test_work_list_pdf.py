"""work_list.pdf read back: one page for a small fleet, the same bytes every time, text is text."""

from __future__ import annotations

from printed_text import page_texts, squeezed

from draincurve.reports.content.report_content import ReportContent
from draincurve.reports.print_edition.work_list_pdf import printed_work_list


def test_the_list_of_sixteen_units_is_one_page_with_every_line(race_content: ReportContent) -> None:
    pdf = printed_work_list(race_content)
    (page,) = page_texts(pdf)
    assert len(race_content.work.lines) > 4
    for line in race_content.work.lines:
        for said in (line.name, line.task, line.why, line.oil, line.amount):
            assert squeezed(said) in page
    for word, meaning in race_content.work.meanings:
        assert squeezed(word) in page
        assert squeezed(meaning) in page
    assert "1/1" in page
    assert printed_work_list(race_content) == pdf


def test_hostile_names_are_text(hostile_content: ReportContent) -> None:
    text = "".join(page_texts(printed_work_list(hostile_content)))
    assert all(squeezed(line.task) in text for line in hostile_content.work.lines)
