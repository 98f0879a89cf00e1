"""Logs as people write them: headers of other languages, titles, ditto marks, totals, words for ratings."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest
from small_logs import AS_OF, run_program, simple_log

from draincurve.pipeline.reading import RunInputs, read
from draincurve.pipeline.reading.sources import source_address
from draincurve.schemas.settings import Settings, read_settings

HEADERS = {
    "German": ("Gabel-Nr.", "Datum", "Std.", "Öl", "Farbe", "Späne", "Feder", "Fahrer"),
    "German, other words": (
        "Holm",
        "Ölwechsel am",
        "Oelstunden",
        "Ölsorte",
        "Ölfarbe",
        "Abrieb",
        "Federtyp",
        "Fahrerin",
    ),
    "French": ("N° fourche", "Date de la vidange", "h huile", "Huile", "Couleur", "Limaille", "Ressort", "Pilote"),
    "French, other words": (
        *("Bras de fourche", "Vidangé le", "Heures d'utilisation", "Type d'huile", "Teinte", "Particules"),
        *("Type de ressort", "Conducteur"),
    ),
    "Spanish": ("Horquilla", "Fecha", "Horas aceite", "Aceite", "Color", "Virutas", "Muelle", "Piloto"),
    "Italian": ("Forcella", "Data cambio olio", "Ore olio", "Olio", "Colore", "Trucioli", "Molla", "Pilota"),
    "German, hours first": ("Gabel", "Datum", "Betriebsstunden Öl", "Öl", "Farbe", "Abrieb", "Feder", "Fahrer"),
    "Italian, oil first": ("Forcella", "Data", "Olio ore", "Olio", "Colore", "Trucioli", "Molla", "Pilota"),
    "Dutch": ("Vork", "Datum", "Draaiuren", "Olie", "Kleur", "Slijtsel", "Veer", "Rijder"),
    "Portuguese": ("Suspensão", "Data da troca", "Horas de óleo", "Óleo", "Cor", "Limalha", "Mola", "Piloto"),
    "Swedish": ("Gaffel", "Datum", "Timmar", "Olja", "Färg", "Spån", "Fjäder", "Förare"),
    "Polish": ("Widelec", "Data wymiany", "Godziny", "Olej", "Kolor", "Opiłki", "Sprężyna", "Zawodnik"),
    "English": ("Fork No.", "Changed on", "Hrs on oil", "Oil type", "Color", "Metal", "Springs", "Ridden by"),
    "mixed case, units": (
        "FORK",
        "date (dd/mm/yyyy)",
        "ride time [h]",
        "GRADE",
        "colour (1-5)",
        "glitter",
        "spring",
        "RIDER",
    ),
}
"""Headers of unit, day, hours, oil, colour, debris, spring and rider."""


def write_lines(path: Path, *lines: str) -> Path:
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def check(path: Path, *options: str | Path) -> tuple[int, str]:
    outcome = run_program("check", path, "--as-of", AS_OF, *options)
    return outcome.status, outcome.printed


def rows(count: int = 6) -> list[str]:
    return [
        f"F{1 + row % 2:02d};{date(2026, 1 + row % 6, 3 + row // 6).isoformat()};{9 + row};Fork 5;2;2;Plain;Brask"
        for row in range(count)
    ]


@pytest.mark.parametrize("language", HEADERS)
def test_headers_of_the_trade(tmp_path: Path, language: str) -> None:
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS[language]), *rows()))
    assert "read 6 = accepted 6 + held back 0" in printed
    assert status == 0


def test_headers_of_a_shop_are_settings(tmp_path: Path) -> None:
    log = write_lines(tmp_path / "log.csv", "Stange;Tag;Zeit am Tropfen;Suppe;Farbe;Späne;Feder;Fahrer", *rows())
    status, printed = check(log)
    assert status == 1
    assert "column unit_id missing" in printed
    settings = write_lines(
        tmp_path / "shop.toml",
        "[headers]",
        'unit_id = ["Stange"]',
        'oil_hours = ["Zeit am Tropfen"]',
        'oil_grade = ["Suppe"]',
    )
    assert "accepted 6 + held back 0" in check(log, "--settings", settings)[1]
    slip = write_lines(tmp_path / "slip.toml", "[headers]", 'unit_idd = ["Stange"]')
    status, printed = check(log, "--settings", slip)
    assert status == 1
    assert "unit_idd: no such column; did you mean unit_id?" in printed


def test_a_missing_header_names_the_likeliest_one(tmp_path: Path) -> None:
    log = write_lines(tmp_path / "log.csv", "Fork;When it was done;Hours;Oil;Colour;Debris;Spring;Rider", *rows())
    status, printed = check(log)
    assert status == 1
    assert '[headers] drained_on = ["When it was done"]' in " ".join(printed.split())


@pytest.mark.parametrize(
    ("standard", "heading"),
    [
        ("GRADE", "Oil (new)"),
        ("ride time [h]", "Hours left"),
        ("ride time [h]", "Hours before"),
        ("ride time [h]", "Hours (x10)"),
        ("FORK", "Side"),
    ],
)
def test_a_heading_of_something_else_is_neither_read_nor_proposed(
    tmp_path: Path, standard: str, heading: str
) -> None:
    headers = [heading if header == standard else header for header in HEADERS["mixed case, units"]]
    lines = [f"{'LR'[at % 2]}{row[3:]}" for at, row in enumerate(rows())] if heading == "Side" else rows()
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(headers), *lines))
    assert status == 1
    assert "missing" in printed
    assert "is it" not in printed


def test_a_log_of_bikes_and_sides_is_told_which_heading_names_the_unit(tmp_path: Path) -> None:
    header = ";".join(("Bike", "Side", *HEADERS["English"][1:]))
    lines = [f"7;{'LR'[at % 2]};{row.split(';', 1)[1]}" for at, row in enumerate(rows())]
    log = write_lines(tmp_path / "log.csv", header, *lines)
    assert '[headers] unit_id = ["Bike"]' in " ".join(check(log)[1].split())
    settings = write_lines(tmp_path / "shop.toml", "[headers]", 'unit_id = ["Bike"]')
    outcome = run_program("plan", log, "--as-of", AS_OF, "--settings", settings, out=tmp_path / "out", page=False)
    assert set(outcome.table("next_service")["unit_id"]) == {"7 L", "7 R"}


def test_totals_titles_and_repeated_headers_are_no_faults(tmp_path: Path) -> None:
    header = ";".join(HEADERS["German"])
    blank = ";" * 6
    log = write_lines(
        tmp_path / "log.csv", "Service 2026" + blank, header, f"Team A{blank};", *rows(3), header, *rows()[3:],
        f"Summe;;69;{blank[3:]};;",
    )  # fmt: skip
    status, printed = check(log)
    assert "read 9 = accepted 6 + held back 3 (3 of them totals, titles or repeated headers)" in printed
    assert status == 0
    faulty = write_lines(
        tmp_path / "faulty.csv", header, *rows(), "F01;2026-06-03;;Fork 5;2;2;Plain;Brask", f"Summe;;69{blank}"
    )
    assert check(faulty)[0] == 3


@pytest.mark.parametrize(("mark", "name"), [("\t", "tabs"), (",", "commas"), ('"', "semicolons")])
def test_rows_that_are_parted_otherwise_than_the_log_are_faults(tmp_path: Path, mark: str, name: str) -> None:
    typed = rows(12)
    other = [f'"{row}"' if mark == '"' else row.replace(";", mark) for row in typed[-3:]]
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS["German"]), *typed[:-3], *other))
    assert "read 12 = accepted 9 + held back 3\n" in printed
    assert f"in one cell, with {name} between its parts" in " ".join(printed.split())
    assert status == 3


def test_rows_with_semicolons_and_decimal_commas_in_a_log_of_commas(tmp_path: Path) -> None:
    header, typed = ",".join(HEADERS["German"]), [row.replace(";", ",") for row in rows(12)]
    other = "F01;2026-06-12;12,5;Fork 5;2;2;Plain;Brask"
    status, printed = check(write_lines(tmp_path / "log.csv", header, *typed, other))
    assert "read 13 = accepted 12 + held back 1\n" in printed
    assert "its parts have semicolons between them, write commas" in " ".join(printed.split())
    assert status == 3


def test_a_table_between_bars(tmp_path: Path) -> None:
    lines = [f"| {' | '.join(row.split(';'))} |" for row in (";".join(HEADERS["German"]), *rows())]
    log = write_lines(tmp_path / "log.md", "# Ölwechsel", "", lines[0], "|---" * 8 + "|", *lines[1:])
    status, printed = check(log)
    assert "read 6 = accepted 6 + held back 0" in printed
    assert status == 0


def test_rows_of_statistics_are_no_drains(tmp_path: Path) -> None:
    statistics = [f"{name};2026-06-03;15;Fork 5;2;2;Plain;Brask" for name in ("Min", "Fleet avg", "Soll", "Vorjahr")]
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["German"]), *rows(), *statistics)
    status, printed = check(log)
    assert "read 10 = accepted 6 + held back 4\n" in printed
    assert status == 3


def test_a_unit_that_is_called_total_is_a_unit_once_the_settings_say_so(tmp_path: Path) -> None:
    log = write_lines(
        tmp_path / "log.csv", ";".join(HEADERS["English"]), *[row.replace("F01", "Total") for row in rows()]
    )
    assert "accepted 3 + held back 3" in check(log)[1]
    settings = tmp_path / "shop.toml"
    settings.write_text('[words.unit_id]\nTotal = "Total"\n', encoding="utf-8")
    assert "accepted 6 + held back 0" in check(log, "--settings", settings)[1]


def test_ditto_marks_repeat_the_cell_above_or_are_held_back(tmp_path: Path) -> None:
    header = ";".join(HEADERS["English"])
    log = write_lines(
        tmp_path / "log.csv", header, "F01;2026-03-04;12;Fork 5;2;2;Plain;Brask", 'F02;2026-03-05;12;"""";2;2;do;id.',
        "F03;2026-03-05;12;,,;2;2;〃;Tevik", "F04;2026-03-05;12;;2;2;Plain;Brask",
        'F05;2026-03-05;12;"""";2;2;Plain;Brask',
    )  # fmt: skip
    status, printed = check(log)
    assert "read 5 = accepted 3 + held back 2" in printed
    assert "repeats the cell above, which is empty" in printed
    assert status == 3


@pytest.mark.parametrize(
    "ratings",
    [
        [("as poured", "none found"), ("tinted but bright", "faint shimmer when tilted"), ("dark", "glitter")],
        [("amber", "none"), ("black", "flakes"), ("cloudy", "fine")],
        [("hell", "keine"), ("dunkel", "Flitter"), ("schwarz", "Späne")],
        [("3+", "2½"), ("3.5", "2 or 3"), ("2–3", "4 settled streak")],
        [("4/5", "2/5"), ("2/5", "1/5"), ("3/5", "4/5")],
        [("gelblich", "rien"), ("teinté", "nada"), ("giallino", "fine")],
        [("leicht trüb", "1"), ("bräunlich", "2"), ("marrón claro", "Glitzer")],
    ],
)
def test_ratings_in_words_and_in_parts(tmp_path: Path, ratings: list[tuple[str, str]]) -> None:
    lines = [
        f"F0{row};2026-03-0{row};12;Fork 5;{colour};{debris};Plain;Brask"
        for row, (colour, debris) in enumerate(ratings, 1)
    ]
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines))
    assert "read 3 = accepted 3 + held back 0" in printed
    assert status == 0


def test_words_of_the_shop_are_settings_for_names_and_ratings(tmp_path: Path) -> None:
    lines = ["F01;2026-03-04;12;5 weight;grey;2;Plain;Brask", "FO1;2026-04-04;12;Fork 5;2;2;Plain;Brask"]
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines)
    settings = write_lines(
        tmp_path / "shop.toml", "[words.unit_id]", '"FO1" = "F01"', "[words.oil_grade]", '"5 weight" = "Fork 5"',
        "[words.colour_rating]", 'grey = "3-4"',
    )  # fmt: skip
    outcome = run_program("plan", log, "--as-of", AS_OF, "--settings", settings, out=tmp_path / "out", page=False)
    assert outcome.status == 0
    service = outcome.table("next_service")
    assert service.select("unit_id", "oil_grade", "drains").rows() == [("F01", "Fork 5", 2)]
    contradicting = write_lines(
        tmp_path / "two.toml", "[words.colour_rating]", 'grey = "3-4"', "[colour_words]", 'Grey = "2"'
    )
    status, printed = check(log, "--settings", contradicting)
    assert status == 1
    assert "'grey' is '3-4' in [words.colour_rating] and '2' in [colour_words]; keep one" in " ".join(printed.split())


def test_a_name_is_bounded_and_on_one_line(tmp_path: Path) -> None:
    lines = [
        *rows(),
        f"F01;2026-06-10;9;Fork 5;2;2;Plain;{'B' * 400_000}",
        'F02;2026-06-10;9;Fork 5;2;2;"Pl\nain";Brask',
    ]
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines))
    assert "= accepted 6 + held back" in printed
    assert len(printed) < 10_000
    assert status == 3


@pytest.mark.parametrize(
    ("dates", "accepted"),
    [
        (["03.02.2026", "05/20/2026", "14.03.2026"], 3),
        (["3.2.26", "4/13/26", "1/4/26"], 3),
        (["13/02/2026", "02/13/2026", "03/02/2026"], 2),
        (["4 févr. 2026", "1er août 2025", "12 déc. 25"], 3),
        (["4. Mär 2026", "Dez 4, 2025", "4 Mai 26"], 3),
        (["4 ene 2026", "4 de sept. de 2025", "4 gen 2026"], 3),
        (["46085", "2026-03-04 10:15:00", "20260305"], 3),
        (["2026年3月4日", "2026-W10-3", "令和8年3月4日"], 3),
        (["4 mrt 2026", "21 maja 2026", "4 de fevereiro de 2026"], 3),
        (["20/01/2026 9.15", "20012026", "21/02/2026 2 pm"], 3),
        (["KW 9 2026", "Jan 2026", "2026-03-04"], 1),
    ],
)
def test_dates_as_people_write_them(tmp_path: Path, dates: list[str], accepted: int) -> None:
    lines = [f"F0{unit};{day};12;Fork 5;2;2;Plain;Brask" for unit, day in enumerate(dates, 1)]
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines))
    assert f"read 3 = accepted {accepted} + held back {3 - accepted}" in printed
    assert status == (0 if accepted == 3 else 3)


@pytest.mark.parametrize(
    ("word", "day"), [("today", "2026-06-20"), ("Yesterday", "2026-06-19"), ("heute", "2026-06-20")]
)
def test_a_drain_of_today_is_added(tmp_path: Path, word: str, day: str) -> None:
    header = "unit_id,drained_on,oil_hours,oil_grade,colour_rating,debris_rating,spring_type,rider"
    log = write_lines(tmp_path / "log.csv", header, "F01,2026-03-04,12,Fork 5,2,2,Plain,Brask")
    cells = (
        "--unit=F01",
        f"--date={word}",
        "--hours=12",
        "--grade=Fork 5",
        "--colour=2",
        "--spring=Plain",
        "--rider=Brask",
    )
    outcome = run_program("add", log, *cells, "--as-of", AS_OF)
    assert outcome.status == 0
    assert log.read_text().splitlines()[-1].startswith(f"F01,{day},12,")


@pytest.mark.parametrize(
    ("column", "names"),
    [
        ("unit_id", ("F01", "FO1")),
        ("unit_id", ("F1", "F1 (left)")),
        ("unit_id", ("Fork 5", "F5")),
        ("oil_grade", ("5W", "5wt")),
        ("oil_grade", ("SAE 5", "Fork 5")),
        ("oil_grade", ("Tarn 5", "Tarm 5")),
        ("rider", ("Brasket", "Braskett")),
    ],
)
def test_names_that_may_be_one_are_asked_about_and_settled_by_the_settings(
    tmp_path: Path, column: str, names: tuple[str, str]
) -> None:
    """Either answer silences the question; merged they are one name, and until then they are two."""
    cells = {"unit_id": "F01", "oil_grade": "Fork 2.5", "rider": "Brask"}
    lines = []
    for month, name in enumerate([names[0], names[0], names[1]], 1):
        row = cells | {column: name}
        lines.append(f"{row['unit_id']};2026-0{month}-04;12;{row['oil_grade']};2;2;Plain;{row['rider']}")
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines)
    status, printed = check(log)
    assert status == 0
    assert f"are '{names[1]}' and '{names[0]}' one? They count as two until you answer" in " ".join(printed.split())
    for answer in names:
        settings = write_lines(tmp_path / "shop.toml", f"[words.{column}]", f'"{names[1]}" = "{answer}"')
        inputs = RunInputs(source_address(str(log)), as_of=date.fromisoformat(AS_OF))
        answered = read(inputs, read_settings(settings))
        assert not answered.remarks["message"].str.contains("count as two").any()
        assert set(answered.accepted["drains"][column].cast(str)) == {names[0], answer}


@pytest.mark.parametrize("answer", ["F01", "FO1"])
def test_a_unit_is_shown_under_the_names_that_the_settings_give_it(tmp_path: Path, answer: str) -> None:
    lines = [f"{unit};2026-0{month}-04;12;Fork 2.5;2;2;Plain;Brask" for month, unit in ((1, "F01"), (2, "FO1"))]
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines)
    settings = write_lines(tmp_path / "shop.toml", "[words.unit_id]", f'FO1 = "{answer}"')
    outcome = run_program("plan", log, "--as-of", AS_OF, "--settings", settings, out=tmp_path / "out", page=False)
    assert set(outcome.table("next_service")["unit_id"]) == {"F01", answer}


def test_hours_from_the_meter_of_a_unit_with_two_names_are_not_known(tmp_path: Path) -> None:
    """A drain under the other name lies between two of them, so that their difference would be two fills."""
    header = "unit_id,drained_on,meter_hours,oil_grade,colour_rating,debris_rating,spring_type,rider"
    names = ["F01", "F01", "FO1", "F01", "F01"]
    lines = [f"{name},2026-0{at}-04,{12 * at},Fork 5,2,2,Plain,Brask" for at, name in enumerate(names, 1)]
    log = write_lines(tmp_path / "log.csv", header, *lines)
    printed = check(log)[1]
    assert "unit that may have two names" in printed
    settings = write_lines(tmp_path / "shop.toml", "[words.unit_id]", 'FO1 = "F01"')
    assert "unit that may have two names" not in check(log, "--settings", settings)[1]


SIGNS = {
    "milky! water in oil": "milky",
    "leaking seal": "leak",
    "do not use": "warning in the note",
    "Simmerring undicht": "leak",
    "eau dans l'huile": "milky",
    "olio bruciato": "burnt",
    "horquilla agrietada, no usar": "warning in the note",
}


@pytest.mark.parametrize("hours", ["12", "a dozen"])
def test_a_safety_word_in_a_note_means_inspect_now_even_in_a_row_held_back(tmp_path: Path, hours: str) -> None:
    """Each note is of a unit of its own, of which an ordinary drain comes before and one without a note after."""
    header = ";".join((*HEADERS["English"], "Remarks"))
    lines = [f"{row};" for row in rows()]
    for unit, note in enumerate(SIGNS, 3):
        lines += [
            f"F{unit:02d};{day};{typed};Fork 5;2;2;Plain;Brask;{said}"
            for day, typed, said in (("2026-06-10", hours, note), ("2026-03-10", 11, ""), ("2026-06-12", 2, ""))
        ]
    log = write_lines(tmp_path / "log.csv", header, *lines)
    outcome = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    found = {row["unit_id"]: row["signs"] for row in outcome.record()["inspect_now"]}
    assert found == {f"F{unit:02d}": sign for unit, sign in enumerate(SIGNS.values(), 3)}
    assert check(log)[1].count("inspect now") >= len(SIGNS)


def test_a_word_that_is_denied_or_settled_is_no_sure_sign(tmp_path: Path) -> None:
    header = ";".join((*HEADERS["English"], "Remarks"))
    notes = ["no leak", "leak: no", "leak fixed", "undicht behoben", "ne fuit pas", "no leak, smells"]
    lines = [
        f"F{unit:02d};2026-0{month}-03;{9 + month};Fork 5;2;2;Plain;Brask;{note}"
        for unit, note in enumerate(notes, 1)
        for month in (1, 3, 5)
    ]
    log = write_lines(tmp_path / "log.csv", header, *lines)
    outcome = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    signs = {row["unit_id"]: row["signs"] for row in outcome.record()["inspect_now"]}
    assert signs == {"F06": "burnt possible: its note is asked about"}
    asked = [line for line in check(log, "--verbose")[1].splitlines() if "in the note: inspect now?" in line]
    assert {unit for unit in ("F01", "F02", "F03", "F04", "F05", "F06") if any(unit in line for line in asked)} == {
        "F03", "F04", "F06"
    }  # fmt: skip


@pytest.mark.parametrize("heading", ["Leak", "Milky", "Burnt"])
def test_a_question_mark_under_a_sign_is_no_blank(tmp_path: Path, heading: str) -> None:
    header = ";".join((*HEADERS["English"], heading))
    lines = [f"{row};{'?' if number == 5 else 'no'}" for number, row in enumerate(rows())]
    log = write_lines(tmp_path / "log.csv", header, *lines)
    assert "may be yes" in check(log, "--verbose")[1]
    outcome = run_program("plan", log, "--as-of", AS_OF, out=tmp_path / "out", page=False)
    assert len(outcome.record()["inspect_now"]) == 1


@pytest.mark.parametrize(
    ("typed", "hours"),
    [
        *(("12½", 12.5), ("12'30", 12.5), ("8+4", 12.0), ("12,25", 12.25), ("12 1/2 h", 12.5), ("11 Std 30", 11.5)),
        *(("elfeinhalb", 11.5), ("twelve h", 12.0), ("=8+4", 12.0), ('="12.5"', 12.5)),
        *(("720 min", 12.0), ("11 h 15", 11.25), ("11 ore e mezza", 11.5), ("11 heures et quart", 11.25)),
    ],
)
def test_hours_as_people_write_them(tmp_path: Path, typed: str, hours: float) -> None:
    cell = f'"{typed.replace(chr(34), 2 * chr(34))}"'
    lines = [*rows(), f"F02;2026-06-10;{cell};Fork 5;2;2;Plain;Brask"]
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["Italian"]), *lines)
    checked = read(RunInputs(source_address(str(log)), as_of=date.fromisoformat(AS_OF)), Settings())
    assert checked.accepted["drains"].filter(line=8)["oil_hours"].to_list() == [hours]


@pytest.mark.parametrize("header", ["Betriebsminuten", "Minutes on oil", "minuti olio"])
def test_hours_in_minutes_by_the_header(tmp_path: Path, header: str) -> None:
    headers = ";".join((*HEADERS["English"][:2], header, *HEADERS["English"][3:]))
    log = write_lines(tmp_path / "log.csv", headers, "F01;2026-05-04;690;Fork 5;2;2;Plain;Brask")
    checked = read(RunInputs(source_address(str(log)), as_of=date.fromisoformat(AS_OF)), Settings())
    assert checked.accepted["drains"]["oil_hours"].to_list() == [11.5]


@pytest.mark.parametrize("header", ["Hours (h:mm)", "Std/Min"])
def test_points_below_a_header_of_hours_and_minutes(tmp_path: Path, header: str) -> None:
    headers = ";".join((*HEADERS["English"][:2], header, *HEADERS["English"][3:]))
    hours = {"11:30": 11.5, "12.15": 12.25, "9": 9.0, "12.5": None, "11,75": None}
    lines = [f"F01;2026-05-{day:02d};{typed};Fork 5;2;2;Plain;Brask" for day, typed in enumerate(hours, 4)]
    log = source_address(str(write_lines(tmp_path / "log.csv", headers, *lines)))
    checked = read(RunInputs(log, as_of=date.fromisoformat(AS_OF)), Settings())
    assert checked.accepted["drains"].sort("line")["oil_hours"].to_list() == [11.5, 12.25, 9.0]
    assert checked.held_back["line"].to_list() == [5, 6]


@pytest.mark.parametrize(
    ("booked", "accepted"),
    [(["05/12/2026", "06/12/2026"], 0), (["05/12/2026", "13/12/2026"], 2), (["05.12.2026"], 1)],
)
def test_a_booking_to_come_does_not_prove_the_order_of_its_day_and_month(
    tmp_path: Path, booked: list[str], accepted: int
) -> None:
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *rows())
    bookings = write_lines(tmp_path / "bookings.csv", "unit_id,date,hours", *[f"F01,{day},3" for day in booked])
    as_of = date.fromisoformat(AS_OF)
    sides = {"bookings": source_address(str(bookings))}
    days = read(RunInputs(source_address(str(log)), as_of, sides), Settings()).accepted["bookings"]["date"]
    assert days.len() == accepted
    assert (days > as_of).all()


def test_an_order_that_only_today_proves_is_asked_about(tmp_path: Path) -> None:
    log = write_lines(
        tmp_path / "log.csv",
        "unit_id,drained_on,oil_hours,oil_grade,colour_rating,spring_type,rider",
        "F01,12/01/2026,10,Amber,2,Coil,Ana",
        "F01,02/03/2026,11,Amber,3,Coil,Ana",
    )
    status, printed = check(log)
    assert status == 0
    assert "1 question about the whole log" in printed
    assert "is that right?" in printed
    assert 'date_order = "day first"' in printed


@pytest.mark.parametrize("shape", ["{0:%Y}-{0:%d}-{0:%m}", "{0:%m}/{0:%d}/{0:%Y}"])
def test_dates_that_a_spreadsheet_swapped_are_held_back_with_the_likely_day(write, shape: str) -> None:
    rows = sorted(simple_log(4, 12), key=lambda row: row["drained_on"])
    swapped = 0
    for row in rows:
        day = date.fromisoformat(row["drained_on"])
        right = "{0:%d}/{0:%m}/{0:%Y}" if "/" in shape else "{0}"
        row["drained_on"] = (shape if day.day <= 12 else right).format(day)
        swapped += day.day <= 12 and day.day != day.month
    log = source_address(str(write("log.csv", rows)))
    held = read(RunInputs(log, as_of=date.fromisoformat(AS_OF)), Settings()).held_back
    assert held.height >= 0.9 * swapped
    assert held["reason"].str.contains(r"swapped \(day for month\) by the rows around it|in the future").all()
    assert held["reason"].str.contains("swapped").sum() >= 5


def test_one_date_that_contradicts_the_others_is_named_with_its_line_and_a_setting(run, write) -> None:
    rows = simple_log(2, 6)
    for row in rows:
        row["drained_on"] = "/".join(reversed(row["drained_on"].split("-")))
    rows[3]["drained_on"] = "03/19/2026"
    said = run("check", write("log.csv", rows), "--as-of", AS_OF, out=False).printed
    assert "'03/19/2026' in line 5 is month first" in said
    assert 'date_order = ""  # "day first" or "month first"' in said


@pytest.mark.parametrize("marks", [("**", "★★★"), ("20%", "40 %"), ("🙂", ":-("), ("+", "+++"), ("A", "B")])
def test_marks_instead_of_ratings_are_held_back_until_the_settings_map_them(tmp_path: Path, marks) -> None:
    lines = [row.replace(";2;2;", f";{marks[at % 2]};2;") for at, row in enumerate(rows())]
    log = write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines)
    status, printed = check(log)
    assert status == 3
    assert "in the settings" in " ".join(printed.split())
    settings = write_lines(
        tmp_path / "shop.toml", "[words.colour_rating]", f'"{marks[0]}" = "2"', f'"{marks[1]}" = "4"'
    )
    checked = read(RunInputs(source_address(str(log)), as_of=date.fromisoformat(AS_OF)), read_settings(settings))
    assert sorted(checked.accepted["drains"]["colour_low"]) == [2, 2, 2, 4, 4, 4]


def test_a_row_for_each_rating_is_told_to_be_one_row(tmp_path: Path) -> None:
    lines = [row.replace(";2;2;", pair) for row in rows() for pair in (";2;;", ";;3;")]
    status, printed = check(write_lines(tmp_path / "log.csv", ";".join(HEADERS["English"]), *lines), "--verbose")
    assert status == 3
    assert "write both ratings in one row" in " ".join(printed.split())


def test_oil_with_other_work_is_a_change_of_oil(tmp_path: Path) -> None:
    header = ";".join((*HEADERS["English"], "Service"))
    kinds = ("oil", "oil + seals", "Öl und Dichtringe", "vidange, joints", "seals only", "oil only checked")
    lines = [f"{row};{kind}" for row, kind in zip(rows(), kinds, strict=True)]
    assert "accepted 4 + held back 2" in check(write_lines(tmp_path / "log.csv", header, *lines))[1]
