"""`draincurve oils`: the table, bad rows and bad input."""

import pytest


def oil(grade, kv40="", kv100="", **more):
    return {"oil_grade": grade, "kv40": kv40, "kv100": kv100} | more


def test_the_table_and_the_names_that_mislead(run, write):
    path = write("oils.csv", [oil("Fork 5", "22.83 cSt", "5.05"), oil("5W", 32, 5.4), oil("Red", 20)])
    done = run("oils", path, "--at", "80", out=False)
    assert done.status == 0
    assert "read 3 = accepted 3 + held back 0" in done.printed
    lines = {line.split("  ")[0]: line.split() for line in done.printed.splitlines()}
    assert lines["Fork 5"][2:5] == ["22.8", "5.05", "156"]
    assert lines["5W"][1:4] == ["32.0", "5.40", "102"]
    assert lines["5W"][5:] == ["8.53", "VG", "32"]  # the worksheet of tests/outside
    assert lines["Red"][1:] == ["20.0", "-", "-", "-", "-", "VG", "22"]
    assert "5W: 1.40 times as thick at 40 C as Fork 5, though both are called 5." in done.printed


def test_bad_rows_are_held_back_with_reasons(run, write):
    rows = [
        oil("Swapped", 5, 30), oil("Same", 5, 5), oil("Bar", "3 bar", 2), oil("", 20, 4), oil("Negative", -5, -9),
        oil("Twice", 20, 4), oil("twice", 21, 4), oil("Good", 20, 4),
    ]  # fmt: skip
    done = run("oils", write("oils.csv", rows), out=False)
    assert done.status == 3
    assert "read 8 = accepted 1 + held back 7" in done.printed
    assert done.printed.count("is not under kv40: every oil thins as it warms") == 2
    for reason in ("'bar' is not a kinematic viscosity", "has the same oil grade as line 8", "expected more than 0"):
        assert reason in done.printed


def test_the_sheet_of_a_workbook_and_an_empty_file(run, write, tmp_path):
    import polars as pl

    book = tmp_path / "log.xlsx"
    pl.DataFrame([oil("Fork 5", 22.83, 5.05)]).write_excel(book, worksheet="oils")
    assert "156" in run("oils", book, out=False).printed
    done = run("oils", write("none.csv", []), out=False)
    assert done.status in (0, 1)
    assert "No oil" in done.printed or "draincurve:" in done.printed


@pytest.mark.parametrize("celsius", ["-60", "400", "nan"])
def test_a_temperature_that_cannot_be(run, write, celsius):
    done = run("oils", write("oils.csv", [oil("Fork 5", 22.83, 5.05)]), "--at", celsius, out=False)
    assert done.status == 1
    assert "expected -40 to 150 C" in done.printed
