"""Workbooks of other formats are read by a process of their own: one that claims too much does not end this one."""

import zipfile

import pytest

from draincurve.pipeline.reading.sources.read_tables import read_log
from draincurve.schemas.errors import SourceError

START = (
    '<?xml version="1.0"?><office:document-content xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0"><office:body><office:spreadsheet>'
)
END = "</office:spreadsheet></office:body></office:document-content>"


def sheet(rows, name="drains"):
    def cell(text):
        return f'<table:table-cell office:value-type="string"><text:p>{text}</text:p></table:table-cell>'

    lines = [f"<table:table-row>{''.join(map(cell, row))}</table:table-row>" for row in rows]
    return f'<table:table table:name="{name}">{"".join(lines)}</table:table>'


def ods(path, body):
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("content.xml", START + body + END)
        archive.writestr("META-INF/manifest.xml", "<manifest/>")
    return path


def test_a_sheet_is_read(tmp_path):
    table = read_log(ods(tmp_path / "log.ods", sheet([["unit", "hours"], ["F1", "12"], ["F2", "9,5"]])))["drains"]
    assert table.frame.select("_line", "unit", "hours").rows() == [(2, "F1", "12"), (3, "F2", "9,5")]
    assert table.notes == (
        "sheet 'drains': hidden rows, merged cells, comments and struck-through text are seen only in XLSX",
    )


@pytest.mark.parametrize(
    "repeats", ['table:number-columns-repeated="2000000000"', 'table:number-columns-repeated="900000"']
)
def test_a_claim_of_many_cells_ends_in_one_line(tmp_path, repeats):
    cell = f'<table:table-cell {repeats} office:value-type="string"><text:p>x</text:p></table:table-cell>'
    rows = f'<table:table-row table:number-rows-repeated="100000">{cell}</table:table-row>'
    with pytest.raises(SourceError, match="not a workbook that can be opened") as caught:
        read_log(ods(tmp_path / "log.ods", f'<table:table table:name="drains">{rows}</table:table>'))
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("name", ["log.xls", "log.ods", "log.xlsb"])
def test_what_is_no_workbook(tmp_path, name):
    path = tmp_path / name
    path.write_bytes(b"\xd0\xcf\x11\xe0" + bytes(600))
    with pytest.raises(SourceError, match="not a workbook"):
        read_log(path)


def test_a_reader_that_is_aborted_ends_in_one_line(tmp_path, monkeypatch):
    aborting = tmp_path / "aborting"
    aborting.write_text("#!/bin/sh\nkill -ABRT $$\n")
    aborting.chmod(0o755)
    monkeypatch.setattr("sys.executable", str(aborting))
    with pytest.raises(SourceError, match="it claims more cells than memory holds"):
        read_log(ods(tmp_path / "log.ods", sheet([["unit", "hours"], ["F1", "12"]])))
