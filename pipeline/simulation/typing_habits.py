"""How one cell is typed by hand: changing units, decimal commas, spelling variants, ranges."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import date

import numpy as np

ML_PER_FLUID_OUNCE = 29.5735
OVERNIGHT_HOURS = 12.0
"""What "o/n" means in an invented log: the sample settled from evening to morning."""


@dataclass(frozen=True, slots=True)
class TypingHabits:
    """How untidy a log is; shares are of the cells or rows that may be altered.

    `bad_rows` adds rows that should be held back, `top_ups` rows that are no drains; `meter_reset` resets one unit's
    hour meter to 0; `blank_hours_share` leaves oil hours blank, to be computed from the meter.
    """

    delimiter: str = ","
    decimal_comma: bool = False
    day_first: bool = False
    variant_share: float = 0.0
    unit_words_share: float = 0.0
    approximate_share: float = 0.0
    rating_range_share: float = 0.0
    blank_rater_share: float = 0.0
    blank_settle_share: float = 0.0
    blank_hours_share: float = 0.0
    bad_rows: bool = False
    top_ups: int = 0
    meter_reset: bool = False


def number_text(value: float, habits: TypingHabits) -> str:
    """A number without trailing zeros, with the log's decimal mark."""
    text = f"{value:.3f}".rstrip("0").rstrip(".")
    return text.replace(".", ",") if habits.decimal_comma else text


def typed_hours(hours: float, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """14.5 h as 14.5, "14.5 h", "14h30", "870 min" or "~14.5"; the value is always the same."""
    plain = number_text(hours, habits)
    if rng.random() < habits.approximate_share:
        return f"~{plain}"
    if rng.random() >= habits.unit_words_share:
        return plain
    minutes = round(hours * 60)
    return str(rng.choice([f"{plain} h", f"{minutes // 60}h{minutes % 60:02d}", f"{minutes} min"]))


def typed_volume(volume_ml: float, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """520 ml as 520, "520 ml", "520 cc", "0.52 l" or "17.6 oz" (to a tenth of a fluid ounce, about 1.5 ml)."""
    plain = number_text(volume_ml, habits)
    if rng.random() >= habits.unit_words_share:
        return plain
    ounces = number_text(round(volume_ml / ML_PER_FLUID_OUNCE, 1), habits)
    litres = number_text(volume_ml / 1000, habits)
    return str(rng.choice([f"{plain} ml", f"{plain} cc", f"{litres} l", f"{ounces} oz"], p=[0.3, 0.4, 0.2, 0.1]))


def typed_settling(hours: float, standard: float, *, habits: TypingHabits, rng: np.random.Generator) -> str:
    """Ten minutes as 0.167, "10 min" or blank; 12 h as "o/n"; others in hours."""
    if hours == standard:
        if rng.random() < habits.blank_settle_share:
            return ""
        worded = rng.random() < 2 * habits.unit_words_share
        return f"{round(hours * 60)} min" if worded else number_text(hours, habits)
    if hours == OVERNIGHT_HOURS:
        return "o/n"
    return f"{number_text(hours, habits)} h" if rng.random() < habits.unit_words_share else number_text(hours, habits)


def typed_rating(rating: int, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """A rating, now and then as a range with a neighbour that includes it."""
    if rng.random() >= habits.rating_range_share:
        return str(rating)
    low = rating if rating == 1 else rating - 1 if rating == 5 else rating - int(rng.integers(2))
    return f"{low}-{low + 1}"


def typed_name(name: str, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """A name, now and then in another case, or with a space or hyphen moved; letters and digits stay."""
    if rng.random() >= habits.variant_share:
        return name
    variants = [name.lower(), name.upper(), name.replace(" ", "-"), f" {name}", name.replace(" ", "")]
    variants += [re.sub(r"(?<=[A-Za-z])(?=\d)", joint, name) for joint in ("-", " ")]
    return str(rng.choice([variant for variant in variants if variant != name]))


def typed_date(day: date, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """ISO, or day first where the log is so, now and then with a short year."""
    if not habits.day_first:
        return day.isoformat()
    if rng.random() < 0.1:
        return f"{day.day}/{day.month}/{day.year % 100:02d}"
    return f"{day.day:02d}/{day.month:02d}/{day.year}"


def typed_answer(answer: bool, habits: TypingHabits, *, rng: np.random.Generator) -> str:
    """Yes or no; in untidy logs no is often short or left blank."""
    if answer:
        return "yes"
    return str(rng.choice(["no", "n", ""])) if rng.random() < habits.unit_words_share else "no"
