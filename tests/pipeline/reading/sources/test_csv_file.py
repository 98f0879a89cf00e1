"""CSV as typed: delimiters, quotes, line numbers, rows that do not fit, and what is refused."""

from pathlib import Path

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from draincurve.pipeline.reading.cleaning.header_meaning import header_columns
from draincurve.pipeline.reading.sources.csv_file import read_csv_file
from draincurve.pipeline.reading.sources.reading_options import ReadingOptions
from draincurve.schemas.errors import SourceError
from draincurve.schemas.settings import Settings


def read(folder: Path, content: bytes | str) -> pl.DataFrame:
    path = folder / "log.csv"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return read_csv_file(path, "drains").frame


def rows(frame: pl.DataFrame) -> list[tuple[object, ...]]:
    return frame.select(pl.exclude("_line")).rows()


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize("start", [b"", b"\xef\xbb\xbf"])
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"])
def test_delimiters_bom_and_line_ends(tmp_path: Path, mark: str, start: bytes, end: str) -> None:
    lines = ["unit", "hours", "note"], ["F07", "12.5", "ok"], ["F08", "9", ""]
    frame = read(tmp_path, start + end.join(mark.join(line) for line in lines).encode())
    assert frame.columns == ["unit", "hours", "note", "_line"]
    assert rows(frame) == [("F07", "12.5", "ok"), ("F08", "9", None)]
    assert frame["_line"].to_list() == [2, 3]


def test_decimal_comma_beside_semicolon(tmp_path: Path) -> None:
    frame = read(tmp_path, "unit;hours;filled\nF07;12,5;480,5\nF08;9,25;481\n")
    assert rows(frame) == [("F07", "12,5", "480,5"), ("F08", "9,25", "481")]


def test_quotes_are_respected_by_the_sniffer(tmp_path: Path) -> None:
    frame = read(tmp_path, 'unit;"note, or remark, or both"\nF07;"a, b"\nF08;"c, d, e"\n')
    assert rows(frame) == [("F07", "a, b"), ("F08", "c, d, e")]
    assert rows(read(tmp_path, "unit,note\nF07,a; b; c\nF08,d\n")) == [("F07", "a; b; c"), ("F08", "d")]


def test_first_line_may_name_the_delimiter(tmp_path: Path) -> None:
    frame = read(tmp_path, "sep=;\r\nunit;hours\r\nF07;12,5\r\n")
    assert rows(frame) == [("F07", "12,5")]
    assert frame["_line"].to_list() == [3]


def test_line_is_where_the_record_starts(tmp_path: Path) -> None:
    frame = read(tmp_path, 'unit,note\n\nF07,"first\nsecond\n\nfourth"\nF08,"a ""quoted"" word"\n\n\nF09,x\n')
    assert frame["_line"].to_list() == [3, 7, 10]
    assert frame["note"].to_list() == ["first\nsecond\n\nfourth", 'a "quoted" word', "x"]


def test_lines_without_content_are_no_rows_but_any_content_is(tmp_path: Path) -> None:
    frame = read(tmp_path, "unit,hours\n\n , \n,,,\n,5\nF07,1\n")
    assert rows(frame) == [(None, "5"), ("F07", "1")]
    assert frame["_line"].to_list() == [5, 6]


@pytest.mark.parametrize("quoted", [False, True])
def test_uneven_rows_are_kept_with_the_reason(tmp_path: Path, quoted: bool) -> None:
    first = '"F07"' if quoted else "F07"
    frame = read(tmp_path, f"unit,hours,oil\n{first},41,5,5W\nF08,9\nF09,7,5W,,\nF10,8,5W\n")
    assert frame.height == 4
    faults = frame["_fault"].to_list()
    assert "4 cells, the header has 3" in faults[0]
    assert "2 cells, the header has 3" in faults[1]
    assert "5 cells, the header has 3" in faults[2]
    assert faults[3] is None
    assert frame["_surplus"].to_list() == ["5W", None, None, None]


@pytest.mark.parametrize("header", ["unit,hours,oil,rider,note", "unit,hours,oil,rider,note,,,,"])
@pytest.mark.parametrize("end", ["", ",", ",,"])
@pytest.mark.parametrize("shifted", ["F02,9,5,5W,Jo,", "F02,9,5W, fresh,Jo,", '"F02",9,5,5W,Jo,', 'F02,9,5,5W,J"o,'])
def test_a_comma_in_a_cell_is_seen_although_the_surplus_is_blank(
    tmp_path: Path, header: str, end: str, shifted: str
) -> None:
    """Also where nearly all rows end with a delimiter too many, and where the header does."""
    fitting = [f"F{number},9.5,5W,Jo,{end}" for number in range(10, 30)]
    frame = read(tmp_path, "\n".join([header, *fitting, shifted + end, ""]))
    faults = frame["_fault"].to_list()
    assert faults[:-1] == [None] * len(fitting)
    assert f"the row has {6 + len(end)} cells, the header has 5" in faults[-1]
    assert "decimal comma" in faults[-1]


def test_a_stray_quotation_mark_is_named_by_its_lines(tmp_path: Path) -> None:
    frame = read(tmp_path, 'unit,note,oil\nF07,"open,5W\nF08,x,5W\nF09,y",5W\nF10,x,5W\n')
    assert frame["unit"].to_list() == ["F07", "F08", "F09", "F10"]
    assert "begins in line 2" in frame["_fault"][0]
    assert "begins in line 2 ends here" in frame["_fault"][2]
    assert frame["_fault"].is_null().to_list() == [False, True, False, True]


def test_trailing_delimiters_and_repeated_headers(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_text("unit,note,note,,\nF07,a,b,,\nF08,c,d,,e\n")
    table = read_csv_file(path, "drains")
    assert table.cell_columns == ["unit", "note", "note (2)", "column 5"]
    assert table.typed_headers == ("unit", "note", "note", "")
    assert table.frame["column 5"].to_list() == [None, "e"]
    assert "_fault" not in table.frame.columns


def test_windows_1252_is_read_with_a_note(tmp_path: Path) -> None:
    path = tmp_path / "log.csv"
    path.write_bytes("rider,hours\nZoë,12\n".encode("cp1252"))
    table = read_csv_file(path, "drains")
    assert table.frame["rider"].to_list() == ["Zoë"]
    assert "Windows-1252" in table.notes[0]


@pytest.mark.parametrize(
    ("content", "wording"),
    [
        (b"", "empty"),
        (b"\n \n;;\n", "empty"),
        (b"\x00\x01\x02\n\x00\x81\n\x00\n", "is not plain text"),
    ],
)
def test_refused_in_one_line(tmp_path: Path, content: bytes, wording: str) -> None:
    with pytest.raises(SourceError, match=wording) as caught:
        read(tmp_path, content)
    assert "\n" not in str(caught.value)


def test_missing_file_and_folder(tmp_path: Path) -> None:
    with pytest.raises(SourceError, match="no such file"):
        read_csv_file(tmp_path / "none.csv", "drains")
    with pytest.raises(SourceError, match="is a folder"):
        read_csv_file(tmp_path, "drains")


cells = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=8)


@settings(max_examples=80, deadline=None)
@given(st.data(), st.sampled_from([",", ";", "\t"]))
def test_what_a_csv_writer_writes_comes_back(
    tmp_path_factory: pytest.TempPathFactory, data: st.DataObject, mark: str
) -> None:
    """The writer of the standard library is the oracle."""
    import csv

    width = data.draw(st.integers(2, 4))
    typed = data.draw(st.lists(st.lists(cells, min_size=width, max_size=width), max_size=6))
    path = tmp_path_factory.mktemp("csv") / "log.csv"
    with path.open("w", newline="", encoding="utf-8") as file:
        writer = csv.writer(file, delimiter=mark, quoting=csv.QUOTE_ALL)
        writer.writerow([f"column_{i}" for i in range(width)])
        writer.writerows(typed)
    frame = read_csv_file(path, "drains").frame
    expected = [tuple(cell or None for cell in row) for row in typed if any(cell.strip() for cell in row)]
    assert rows(frame) == expected


@settings(max_examples=120, deadline=None)
@given(st.binary(max_size=120))
def test_any_bytes_give_a_table_or_one_clear_error(tmp_path_factory: pytest.TempPathFactory, content: bytes) -> None:
    path = tmp_path_factory.mktemp("bytes") / "log.csv"
    path.write_bytes(content)
    try:
        frame = read_csv_file(path, "drains").frame
    except SourceError as fault:
        message = str(fault)
    else:
        message = str(path)
        assert frame["_line"].is_sorted()
        assert frame["_line"].n_unique() == frame.height
    assert message.startswith(str(path))
    assert "\n" not in message


@pytest.mark.parametrize("text", ["sep=,\r\n", "sep=;\n;;;\n", 'sep=,\n""\n', "sep=;"])
def test_a_file_that_only_names_its_delimiter_is_empty(tmp_path: Path, text: str) -> None:
    with pytest.raises(SourceError, match="the file is empty"):
        read(tmp_path, text)


LOG_HEADER = "Unit{0}Date{0}Hours{0}Oil{0}Colour{0}Spring{0}Rider"


@pytest.mark.parametrize("mark", [",", ";", "\t"])
@pytest.mark.parametrize(
    "titles", ["", "Fork log 2026\n\n", "Workshop, south; 2026\nprinted 3.3.2026;;;\n", '"Fork\nlog"\nA;B;C\n']
)
def test_titles_above_the_header(tmp_path: Path, mark: str, titles: str) -> None:
    row = mark.join(["F07", "2026-03-04", "12", "5W", "2", "hard", "AB"])
    path = tmp_path / "log.csv"
    path.write_text(f"{titles}{LOG_HEADER.format(mark)}\n{row}\n\n{row}\n")
    table = read_csv_file(path, "drains", ReadingOptions(columns_of=header_columns(Settings())))
    above = titles.count("\n")
    assert table.headers == tuple(LOG_HEADER.format(mark).split(mark))
    assert table.frame["_line"].to_list() == [above + 2, above + 4]
    assert "_fault" not in table.frame.columns
    assert len(table.notes) == bool(titles)


@pytest.mark.parametrize("rider", ["AB", '"A, B"'])
def test_rows_above_the_header_are_held_back(tmp_path: Path, rider: str) -> None:
    row = f"F07,2026-03-04,12,5W,2,hard,{rider}\n"
    path = tmp_path / "log.csv"
    path.write_text(f"title\n{row}{row}{LOG_HEADER.format(',')}\n{row}")
    table = read_csv_file(path, "drains", ReadingOptions(columns_of=header_columns(Settings())))
    faults = table.frame["_fault"].to_list()
    assert [fault and "above the header in line 4" in fault for fault in faults] == [True, True, None]
