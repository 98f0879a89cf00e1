"""Headers of hours on the oil, on the spring or on a machine, in any order of words."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.header_meaning import match_header
from draincurve.pipeline.reading.cleaning.headers import matched_table
from draincurve.pipeline.reading.sources.source_table import SourceTable
from draincurve.schemas.errors import HeaderError


def meanings(header: str, table: str = "drains") -> tuple[str, ...]:
    match = match_header(header, table)
    return () if match is None else match.columns


@pytest.mark.parametrize(
    "header",
    [
        *("Betriebsstunden Öl", "Öl-Betriebsstunden", "Stunden auf dem Öl", "Laufzeit Öl [h]", "Gabelölstunden"),
        *("Hours oil", "OIL RUNNING HOURS", "Hours run on oil", "Fork oil hrs", "Oil hours (min)", "Hours of oil"),
        *("heures huile", "Huile heures", "Heures sur l'huile", "Heures roulées, huile", "huile fourche heures"),
        *("horas aceite", "Aceite, horas", "Horas sobre el aceite", "Horas desde el cambio de aceite"),
        *("ore olio", "Olio ore", "Ore sull'olio", "Ore dall'ultimo cambio olio"),
        *("Stunden seit letztem Ölwechsel", "hours since last oil change", "heures depuis la dernière vidange"),
    ],
)
def test_hours_on_the_oil(header: str) -> None:
    assert meanings(header) == ("oil_hours",)
    assert meanings(header, "measurements") == ("component_hours",)


@pytest.mark.parametrize("header", ["hours spring", "Betriebsstunden Feder", "Resorte horas", "Ore sulla molla"])
def test_hours_on_the_spring(header: str) -> None:
    assert meanings(header) == ("spring_hours",)


@pytest.mark.parametrize(
    "header", ["Engine hours", "Hours engine", "Betriebsstunden Motor", "Bike hours", "Total hours", "Heures machine"]
)
def test_hours_of_a_machine_may_be_a_meter_or_the_oil(header: str) -> None:
    assert meanings(header) == ("oil_hours", "meter_hours")


@pytest.mark.parametrize(
    "header",
    [
        *("Hours at oil change", "Oil change hours", "Motoröl Stunden", "Engine oil hours", "Oil level", "Oil on"),
        *("Stunden seit", "Hours oil spring", "Öl Stundenlohn", "Ore di lavoro olio"),
    ],
)
def test_other_words_are_no_hours_on_anything(header: str) -> None:
    assert meanings(header) == ()


@pytest.mark.parametrize(
    ("present", "column"), [((), None), (("oil hours",), "meter_hours"), (("hour meter",), "oil_hours")]
)
def test_hours_of_a_machine_are_asked_about(present: tuple[str, ...], column: str | None) -> None:
    """It is read where only one of the two has no other header, with a question; else both answers are proposed."""
    headers = ("unit", "date", "engine hours", "oil", "colour", "spring", "rider", *present)
    source = SourceTable("drains", "log.csv", "", pl.DataFrame({name: ["x"] for name in headers} | {"_line": [2]}))
    if column is None:
        with pytest.raises(HeaderError, match="'engine hours' may be oil_hours or meter_hours") as fault:
            matched_table(source)
        assert fault.value.setting == (
            '[headers]\n# Keep one of these lines:\n# oil_hours = ["engine hours"]\n# meter_hours = ["engine hours"]'
        )
    else:
        matched = matched_table(source)
        assert matched.columns["engine hours"] == column
        assert matched.findings.filter(kind="asked")["value"].to_list() == ["engine hours"]
