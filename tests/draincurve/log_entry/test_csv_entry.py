"""A drain into CSV logs of many manners: what is added is what `check` reads, and nothing else has changed."""

from __future__ import annotations

import os
import stat
from dataclasses import replace
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from bench_logs import AS_OF, HEADER, RULES, checked, csv_bytes, entry, last_drain, write_log
from deep_runs import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from draincurve.log_entry.csv_entry import add_to_csv
from draincurve.log_entry.drain_entry import EntryError, drain_entry
from draincurve.pipeline.atomic_file import PART
from draincurve.schemas.columns import DRAINS
from draincurve.schemas.errors import SourceError

names = st.text(st.characters(exclude_categories=("C", "Z")) | st.just(" "), min_size=1, max_size=12).map(
    lambda text: f"n{' '.join(text.split())}"
)
manners = st.fixed_dictionaries(
    {
        "delimiter": st.sampled_from([",", ";", "\t"]),
        "decimal": st.sampled_from([".", ","]),
        "newline": st.sampled_from(["\n", "\r\n"]),
        "bom": st.booleans(),
        "quoted": st.booleans(),
        "dated": st.sampled_from(["%Y-%m-%d", "%d/%m/%Y", "%m/%d/%Y", "%d.%m.%Y"]),
        "header": st.sampled_from(
            [
                HEADER,
                (
                    "Fork",
                    "Date",
                    "Ride time min",
                    "Oil",
                    "Filled (l)",
                    "Colour",
                    "Debris",
                    "Spring",
                    "Rider",
                    "Notes",
                ),
                (
                    "Fork",
                    "Date",
                    "Oil hours [h]",
                    "Oil",
                    "Filled (cc)",
                    "Colour",
                    "Metal",
                    "Spring",
                    "Rider",
                    "Notes",
                ),
            ]
        ),
    }
)
drains = st.fixed_dictionaries(
    {
        "unit_id": names,
        "drained_on": st.dates(date(2026, 5, 1), AS_OF).map(str),
        "oil_hours": st.decimals(1, 40, places=1).map(str),
        "oil_grade": names,
        "filled_ml": st.integers(300, 900).map(str),
        "colour_rating": st.sampled_from(["1", "2", "3-4", "5"]),
        "debris_rating": st.sampled_from(["1", "2", "3", "4-5"]),
        "spring_type": names,
        "rider": names,
        "note": names | st.sampled_from(["=1+1", "+cmd|' /C calc'!A0", "@SUM(A1)", 'a "word", and; more']),
    }
)


@settings(max_examples=examples(10))
@given(manners, drains)
def test_what_is_added_is_what_check_reads(manner, cells):
    if manner["header"][2].endswith("min"):
        manner = manner | {"decimal": "."}  # the sample's hours stand for minutes there, which is no matter
    with TemporaryDirectory() as folder:
        path = write_log(Path(folder), **manner)
        before = path.read_bytes()
        added = add_to_csv(path, drain_entry(cells), rules=RULES)
        content = path.read_bytes()
        assert content.startswith(before)
        assert content[len(before) :].decode() == added.written + manner["newline"]
        found = last_drain(path)
    for name in ("unit_id", "oil_grade", "spring_type", "rider", "note"):
        assert found[name] == cells[name]
    assert str(found["drained_on"]) == cells["drained_on"]
    assert found["oil_hours"] == pytest.approx(float(cells["oil_hours"]), rel=1e-9)
    assert found["filled_ml"] == pytest.approx(float(cells["filled_ml"]), rel=1e-9)
    for channel in ("colour", "debris"):
        low, _, high = cells[f"{channel}_rating"].partition("-")
        assert (found[f"{channel}_low"], found[f"{channel}_high"]) == (int(low), int(high or low))


@pytest.mark.parametrize(
    ("manner", "written"),
    [
        ({}, "F07,2026-06-19,12.5,Fork 5,,3,2,Stepped 46,Tevik,"),
        ({"delimiter": ";", "decimal": ","}, "F07;2026-06-19;12,5;Fork 5;;3;2;Stepped 46;Tevik;"),
        ({"decimal": ","}, 'F07,2026-06-19,"12,5",Fork 5,,3,2,Stepped 46,Tevik,'),
        ({"dated": "%d.%m.%Y"}, "F07,19.06.2026,12.5,Fork 5,,3,2,Stepped 46,Tevik,"),
        ({"dated": "%m/%d/%Y"}, "F07,06/19/2026,12.5,Fork 5,,3,2,Stepped 46,Tevik,"),
        ({"dated": "%-d/%-m/%Y"}, "F07,19/6/2026,12.5,Fork 5,,3,2,Stepped 46,Tevik,"),
        ({"dated": "%d %b %y"}, "F07,2026-06-19,12.5,Fork 5,,3,2,Stepped 46,Tevik,"),
        ({"quoted": True}, '"F07","2026-06-19","12.5","Fork 5","","3","2","Stepped 46","Tevik",""'),
    ],
)
def test_the_row_is_written_as_the_log_is(manner, written, tmp_path):
    added = add_to_csv(write_log(tmp_path, **manner), entry(), rules=RULES)
    assert added.written == written
    assert added.location == f"{tmp_path / 'drains.csv'}, line 14"
    assert added.questions == ()


def test_hours_go_into_the_unit_of_the_header(tmp_path):
    header = ("unit_id", "date", "ride time min", *HEADER[3:])
    path = write_log(tmp_path, header=header)
    assert ",750," in add_to_csv(path, entry(), rules=RULES).written
    assert last_drain(path)["oil_hours"] == 12.5
    litres = ("unit_id", "date", "oil hours", "oil", "filled (l)", *HEADER[5:])
    path = write_log(tmp_path, header=litres)
    assert ",0.52," in add_to_csv(path, entry(filled_ml="520"), rules=RULES).written
    gallons = ("unit_id", "date", "oil hours", "oil", "filled (fl oz)", *HEADER[5:])
    path = write_log(tmp_path, header=gallons)
    assert ",520 ml," in add_to_csv(path, entry(filled_ml="520"), rules=RULES).written, (
        "no short number of ounces is 520 ml"
    )
    assert last_drain(path)["filled_ml"] == 520


def test_a_name_takes_the_spelling_of_the_log(tmp_path):
    path = write_log(tmp_path)
    added = add_to_csv(
        path, entry(unit_id="f-07", oil_grade="FORK  5", spring_type="stepped-46", rider="tevik"), rules=RULES
    )
    assert added.written == "F07,2026-06-19,12.5,Fork 5,,3,2,Stepped 46,Tevik,"


def test_a_name_that_is_nearly_one_is_asked_about_and_kept(tmp_path):
    added = add_to_csv(write_log(tmp_path), entry(rider="Tevick", filled_ml="900"), rules=RULES)
    assert "rider = Tevick: are 'Tevick' and 'Tevik' one? They count as two until you answer" in added.questions
    assert "Tevick" in added.written


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"oil_hours": "0"}, "oil_hours = 0: is not over 0 h"),
        ({"oil_hours": "many"}, "oil_hours = many"),
        ({"oil_hours": ""}, "oil_hours is empty"),
        ({"drained_on": "2026-06-21"}, "drained_on = 2026-06-21: is in the future"),
        ({"drained_on": "yesterday"}, "drained_on = yesterday"),
        ({"colour_rating": "6"}, "colour_rating = 6"),
        ({"colour_rating": "", "debris_rating": ""}, "colour_rating is empty"),
        ({"rider": ""}, "rider is empty"),
        ({"unit_id": "F" * 65}, "is longer than 64 characters"),
        (
            {"drained_on": "2026-01-05", "oil_hours": "9.0"},
            "has the same unit, date and hours as line 2, but differs",
        ),
    ],
)
def test_what_check_would_hold_back_is_refused(changed, said, tmp_path):
    path = write_log(tmp_path)
    with pytest.raises(EntryError) as refused:
        add_to_csv(path, entry(**changed), rules=RULES)
    assert said in str(refused.value)
    assert path.read_bytes() == csv_bytes()
    assert [item.name for item in tmp_path.iterdir()] == ["drains.csv"]


def test_the_same_drain_twice_is_refused(tmp_path):
    path = write_log(tmp_path)
    add_to_csv(path, entry(), rules=RULES)
    once = path.read_bytes()
    with pytest.raises(EntryError, match="is a copy of line 14"):
        add_to_csv(path, entry(), rules=RULES)
    assert path.read_bytes() == once


def test_rows_that_were_held_back_before_are_no_obstacle(tmp_path):
    path = write_log(tmp_path)
    path.write_bytes(path.read_bytes() + b"F07,2026-05-01,0,Fork 5,,3,2,Stepped 46,Tevik,\n")
    add_to_csv(path, entry(), rules=RULES)
    log = checked(path)
    assert log.held_back["line"].to_list() == [14]


def test_a_row_that_would_change_how_another_is_read_is_refused(tmp_path):
    header = "unit_id,drained_on,oil_hours,oil_grade,colour_rating,debris_rating,spring_type,rider\n"
    path = tmp_path / "drains.csv"
    path.write_text(
        f'{header}F07,2026-01-05,"1,234",Fork 5,3,2,Stepped 46,Tevik\nF08,2026-01-05,"9,5",Fork 5,3,2,S,Ada\n'
    )
    before = path.read_bytes()
    with pytest.raises(EntryError, match="line 2"):
        add_to_csv(path, entry(oil_hours="12.5 h"), rules=RULES)
    assert path.read_bytes() == before
    assert '"12,5"' in add_to_csv(path, entry(), rules=RULES).written


@pytest.mark.parametrize("tail", ["", "\n", "\n\n", "\n , \n"])
def test_whatever_stands_at_the_end_of_the_file(tail, tmp_path):
    path = write_log(tmp_path)
    path.write_bytes(path.read_bytes().rstrip(b"\n") + tail.encode())
    add_to_csv(path, entry(), rules=RULES)
    assert last_drain(path)["oil_hours"] == 12.5
    assert checked(path).accounts[0].read == 13


def test_windows_text_stays_windows_text(tmp_path):
    path = write_log(tmp_path, header=(*HEADER[:-1], "Bemerkung für später"), encoding="cp1252")
    add_to_csv(path, entry(rider="Jörn"), rules=RULES)
    assert path.read_bytes().endswith("Jörn,\n".encode("cp1252"))
    with pytest.raises(EntryError, match="'ش' cannot be written: the log is Windows-1252"):
        add_to_csv(path, entry(rider="ش", oil_hours="11"), rules=RULES)


def test_a_declared_separator_stays_first(tmp_path):
    path = tmp_path / "drains.csv"
    path.write_bytes(b"sep=;\r\n" + csv_bytes(delimiter=";", newline="\r\n"))
    added = add_to_csv(path, entry(rated_by="KB"), rules=replace(RULES, add_columns=True))
    lines = path.read_bytes().split(b"\r\n")
    assert lines[0] == b"sep=;"
    assert lines[1].endswith(b";note;rated_by")
    assert added.location.endswith("line 15")


def test_a_column_that_the_log_lacks_is_named_and_added_only_when_asked(tmp_path):
    path = write_log(tmp_path)
    with pytest.raises(EntryError, match="has no column rated_by, leak; add them to the log, or let --add-columns"):
        add_to_csv(path, entry(rated_by="KB", leak="no"), rules=RULES)
    before = path.read_text().splitlines()
    add_to_csv(path, entry(rated_by="KB", leak="no"), rules=replace(RULES, add_columns=True))
    after = path.read_text().splitlines()
    assert after[0] == f"{before[0]},rated_by,leak"
    assert after[1:-1] == [f"{line},," for line in before[1:]]
    found = last_drain(path)
    assert (found["rated_by"], found["leak"]) == ("KB", False)


def test_columns_go_behind_records_of_several_lines(tmp_path):
    path = write_log(tmp_path)
    path.write_bytes(path.read_bytes() + b'F08,2026-06-01,9.9,Fork 5,,3,2,Stepped 46,Ollin,"two\nlines"\n\n')
    add_to_csv(path, entry(rated_by="KB"), rules=replace(RULES, add_columns=True))
    assert b'"two\nlines",\n\n' in path.read_bytes()
    assert checked(path).held_back.height == 0
    assert last_drain(path)["rated_by"] == "KB"


def test_a_log_is_begun_only_when_asked(tmp_path):
    path = tmp_path / "new.csv"
    with pytest.raises(EntryError, match="begin a log with --new"):
        add_to_csv(path, entry(), rules=RULES)
    assert not path.exists()
    with pytest.raises(EntryError, match="not over 0"):
        add_to_csv(path, entry(oil_hours="0"), rules=replace(RULES, new_log=True))
    assert list(tmp_path.iterdir()) == []
    add_to_csv(path, entry(rated_by="KB"), rules=replace(RULES, new_log=True))
    assert path.read_text().splitlines()[0] == ",".join(column.name for column in DRAINS)
    add_to_csv(path, entry(oil_hours="9"), rules=replace(RULES, new_log=True))
    assert checked(path).accounts[0].accepted == 2


def test_a_log_with_a_header_alone(tmp_path):
    path = tmp_path / "drains.csv"
    path.write_text(",".join(HEADER))
    add_to_csv(path, entry(), rules=RULES)
    assert last_drain(path)["unit_id"] == "F07"


def test_rights_links_and_neighbours_stay(tmp_path):
    path = write_log(tmp_path)
    path.chmod(0o640)
    link = tmp_path / "link.csv"
    link.symlink_to(path)
    (tmp_path / f".drains.csv-abc{PART}").write_text("left by a killed entry")
    (tmp_path / "other.part").write_text("somebody else's")
    add_to_csv(link, entry(), rules=RULES)
    assert link.is_symlink()
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert sorted(item.name for item in tmp_path.iterdir()) == ["drains.csv", "link.csv", "other.part"]
    assert last_drain(path)["oil_hours"] == 12.5


@pytest.mark.skipif(os.geteuid() == 0, reason="the administrator may write everywhere")
def test_a_write_protected_log_is_left_alone(tmp_path):
    path = write_log(tmp_path)
    path.chmod(0o444)
    with pytest.raises(EntryError, match="write-protected"):
        add_to_csv(path, entry(), rules=RULES)


def test_a_log_that_changed_meanwhile_is_not_overwritten(tmp_path, monkeypatch):
    from draincurve.log_entry import csv_entry

    path = write_log(tmp_path)
    found = csv_entry.questions_about

    def slow(*given, **named):
        path.write_bytes(csv_bytes() + b"F08,2026-06-01,9.9,Fork 5,,3,2,Stepped 46,Ollin,\n")
        return found(*given, **named)

    monkeypatch.setattr(csv_entry, "questions_about", slow)
    with pytest.raises(EntryError, match="another program has just changed it"):
        add_to_csv(path, entry(), rules=RULES)
    assert path.read_text().count("\n") == 14


def test_a_log_that_is_none(tmp_path):
    path = tmp_path / "drains.csv"
    for content, said in (
        (b"", "empty"),
        (b"a,b\n1,2\n", "has no column unit_id"),
        (b"\x00\x01", "not plain text"),
    ):
        path.write_bytes(content)
        with pytest.raises((SourceError, EntryError), match=said):
            add_to_csv(path, entry(), rules=RULES)
        assert path.read_bytes() == content


@pytest.mark.parametrize("cells", [{"unit_id": "F\x0007"}, {"note": "\x1b[31m"}, {"rider": "a\u202eb"}])
def test_control_characters_are_refused(cells):
    with pytest.raises(EntryError, match="control character"):
        entry(**cells)
    assert entry(note="two\n lines\t here").cells["note"] == "two lines here"
    with pytest.raises(EntryError, match="nothing was given"):
        drain_entry({})
