"""A rater whose scale is another one than the others' is asked about, and rates dirtier until the answer."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

QUESTION = "is that scale 0 to 4|does that scale end there"


def rows(change=lambda level: level, *, count: int = 90, seed: int = 1, **more: str) -> list[dict]:
    """Drains of six units by three raters; change : what MO writes for each level of five."""
    rng = np.random.default_rng(seed)
    log = []
    for at in range(count):
        hours = round(float(rng.uniform(5, 30)), 1)
        rater = ("KB", "MO", "TW")[at % 3]
        latent = 3 * np.log(hours / np.array([4.0, 9.0, 16.0, 24.0])) + rng.logistic(size=(2, 1))
        levels = [int(level) for level in 1 + (latent > 0).sum(axis=1)]
        written = [change(level) if rater == "MO" else level for level in levels]
        log.append(
            {
                "unit_id": f"F0{at % 6}",
                "drained_on": (date(2025, 1, 3) + timedelta(days=5 * at)).isoformat(),
                "oil_hours": str(hours),
                "colour_rating": str(written[0]),
                "debris_rating": str(written[1]),
                "rated_by": rater,
            }
            | more
        )
    return log


def asked(log) -> list[str]:
    return log.asked.filter(log.asked["message"].str.contains(QUESTION))["message"].to_list()


def levels(log) -> dict[int, tuple[int, int]]:
    mine = log.accepted["drains"].filter(log.accepted["drains"]["rated_by"].cast(str) == "MO")
    return {line: (low, high) for line, low, high in mine.select("line", "colour_low", "colour_high").iter_rows()}


def test_a_scale_from_0_counts_one_level_dirtier(check) -> None:
    typed = rows(lambda level: level - 1)
    log = check(*typed)
    assert len(asked(log)) == 2
    assert "0 by 'MO' alone" in asked(log)[0]
    assert all(low == high == int(typed[line - 2]["colour_rating"]) + 1 for line, (low, high) in levels(log).items())


def test_a_scale_that_ends_at_3_may_mean_5(check) -> None:
    log = check(*rows(lambda level: (level + 1) // 2))
    assert len(asked(log)) == 2
    assert set(levels(log).values()) == {(1, 2), (2, 4), (3, 5)}


@pytest.mark.parametrize("change", [lambda level: level, lambda level: max(1, level - 1)])
@pytest.mark.parametrize("seed", range(6))
def test_the_same_scale_and_a_milder_eye_ask_nothing(check, change, seed: int) -> None:
    assert asked(check(*rows(change, count=60, seed=seed))) == []


def test_confirmed_rows_stay_as_they_are(check) -> None:
    typed = rows(lambda level: (level + 1) // 2, confirmed="yes")
    assert set(levels(check(*typed)).values()) == {(1, 1), (2, 2), (3, 3)}
