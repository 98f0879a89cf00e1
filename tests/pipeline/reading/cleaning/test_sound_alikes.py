"""Names of people that sound alike are asked about only where one is rare and nothing speaks for two people."""

import polars as pl
import pytest

from draincurve.pipeline.reading.cleaning.sound_alikes import sound_alikes


def drains(*rows: tuple[str, str], column: str = "rider") -> tuple[pl.DataFrame, dict[str, int]]:
    frame = pl.DataFrame(rows, schema=["unit_id", column], orient="row")
    return frame, dict(frame[column].value_counts().iter_rows())


@pytest.mark.parametrize(
    ("rare", "common"),
    [("Ana", "Anne"), ("Brandon", "Brendan"), ("Jean-Luc", "Jan Luca"), ("Mäder", "Moder"), ("Katrin", "Kathrene")],
)
def test_a_rare_rider_in_the_units_of_one_who_sounds_alike(rare: str, common: str) -> None:
    frame, times = drains(*[("F01", common)] * 6, ("F02", common), ("F01", rare))
    assert sound_alikes(frame, "rider", times=times) == ((rare, common),)


@pytest.mark.parametrize(
    "rows",
    [
        [("F01", "Brendan")] * 8 + [("F02", "Brandon")],
        [("F01", "Brendan")] * 8 + [("F01", "Brandon")] * 3,
        [("F01", "Brendan")] * 4 + [("F01", "Brandon")],
        [("F01", "Tevik")] * 8 + [("F01", "Tovar")],
        [("F01", "Ida")] * 8 + [("F01", "Ada")],
        [("F01", "Ea")] * 8 + [("F01", "Eo")],
        [("F01", "Rider 1")] * 8 + [("F01", "Rider 2")],
    ],
)
def test_two_people(rows) -> None:
    frame, times = drains(*rows)
    assert sound_alikes(frame, "rider", times=times) == ()


def test_raters_share_units_anyway_and_must_share_more_letters() -> None:
    frame, times = drains(
        *[("F01", "Brendan"), ("F01", "Ana"), ("F01", "KB")] * 5, ("F02", "Brandon"), column="rated_by"
    )
    assert sound_alikes(frame, "rated_by", times=times) == (("Brandon", "Brendan"),)
    frame, times = drains(*[("F01", "Anne"), ("F01", "KB")] * 5, ("F01", "Ana"), ("F01", "KeB"), column="rated_by")
    assert sound_alikes(frame, "rated_by", times=times) == ()


def test_the_question_and_both_names_reach_the_log(check) -> None:
    names = ["Brendan"] * 6 + ["Brandon"]
    log = check(*[{"rider": name, "drained_on": f"2026-03-{day:02d}"} for day, name in enumerate(names, 1)])
    [question] = log.asked.filter(column="rider")["message"]
    assert question == "are 'Brandon' and 'Brendan' one? They count as two until you answer"
    assert log.similar_names["rider"] == (("Brandon", "Brendan"),)
