"""Quotation marks: notes of several lines are one cell, a stray mark swallows no row."""

import pytest

from draincurve.pipeline.reading.sources.bounds import LONGEST_RECORD_LINES
from draincurve.pipeline.reading.sources.csv_records import RecordForm, physical_lines, read_record, records_from

COLUMNS = ("unit_id", "drained_on", "oil_hours", "note", "rider")
FORM = RecordForm(",", COLUMNS, 5)


def records(text, form=FORM):
    lines = physical_lines(text.encode())
    return list(records_from(lines, range(1, len(lines) + 1), form))


@pytest.mark.parametrize(
    "note", ['"a\nb"', '"a\n\nb, c\nd"', '"said ""dark""\r\nand again"', '"x, y\nz"', '"\n"', '"a,b,c\nd"']
)
def test_notes_of_several_lines_stay_one_cell(note):
    found = records(f"F1,2026-03-04,12,{note},AB\nF2,2026-03-05,9,x,AB\n")
    assert [record.fault for record in found] == [None, None]
    assert found[0].cells[3] == note[1:-1].replace('""', '"')
    assert found[0].end == 1 + note.count("\n")


@pytest.mark.parametrize("column", range(5))
@pytest.mark.parametrize("between", [0, 1, 7, LONGEST_RECORD_LINES + 20])
def test_two_stray_marks_swallow_no_row(column, between):
    rows = [["F1", "2026-03-04", "12", "ok", "AB"] for _ in range(between + 2)]
    rows[0][column] = '"' + rows[0][column]
    rows[-1][column] += '"'
    found = records("".join(",".join(row) + "\n" for row in rows))
    assert [record.start for record in found] == list(range(1, between + 3))
    assert "begins in line 1" in found[0].fault
    assert [record.fault for record in found[1:-1]] == [None] * between
    assert "begins in line 1 ends here" in found[-1].fault


@pytest.mark.parametrize("end", ["", "\n"])
def test_a_mark_that_is_never_closed(end):
    found = records(f'F1,2026-03-04,12,"ok,AB\nF2,2026-03-05,9,x,AB{end}')
    assert "begins in line 1" in found[0].fault
    assert found[0].cells == ["F1", "2026-03-04", "12", '"ok', "AB"]
    assert found[1].cells == ["F2", "2026-03-05", "9", "x", "AB"]


def test_a_line_break_in_a_name_is_a_stray_mark():
    found = records('"F\n1",2026-03-04,12,ok,AB\nF2,2026-03-05,9,x,AB\n')
    assert [(record.start, record.fault is None) for record in found] == [(1, False), (2, False), (3, True)]


def test_every_line_is_in_exactly_one_record():
    text = 'F1,a,1,"x\ny",AB\n"F2,b,2,z,AB\nF3,c,3,"p ""q""",AB\nF4",d,4,,AB\nF5,e,5,"w\n\nv",AB\n'
    found = records(text)
    lines = [line for record in found for line in range(record.start, record.end + 1)]
    assert lines == list(range(1, len(physical_lines(text.encode())) + 1))


def test_headers_of_several_lines_are_records_before_the_header_is_known():
    record = read_record(physical_lines(b'Unit,"Oil\nhours",Date\nF1,9,x\n'), 1, RecordForm(","))
    assert (record.cells, record.fault, record.end) == (["Unit", "Oil\nhours", "Date"], None, 2)


def test_a_very_long_note_is_a_stray_mark():
    found = records('F1,2026-03-04,12,"' + "x" * 20_000 + "\n" + "y" * 20_000 + '",AB\n')
    assert "begins in line 1" in found[0].fault
