"""What a shop would write for itself: pandas alone reads the log, parses it and drops what cannot be right.

Written as well as a careful person would, with whole columns at once and no loop over rows. It is what
`reading.py` holds the program against; the program does not use it.
"""

from __future__ import annotations

from pathlib import Path

import pandas as pd

REQUIRED = ["unit_id", "drained_on", "oil_hours", "oil_grade", "spring_type", "rider"]
NUMBERS = ["oil_hours", "meter_hours", "filled_ml", "drained_ml", "settle_hours", "spring_hours"]
RATINGS = ["colour_rating", "debris_rating"]
SAME_DRAIN = ["unit_id", "drained_on", "oil_hours"]


def read_with_pandas(path: Path, as_of: str) -> pd.DataFrame:
    """The rows that are kept, typed, under the numbers of their lines."""
    typed = pd.read_csv(path, dtype=str)
    typed.index = typed.index + 2
    typed = typed.apply(lambda cells: cells.str.strip()).replace("", pd.NA)
    drains = typed.copy()
    drains["drained_on"] = pd.to_datetime(typed["drained_on"], format="%Y-%m-%d", errors="coerce")
    for column in NUMBERS + RATINGS:
        drains[column] = pd.to_numeric(typed[column], errors="coerce")
    for column in ("milky", "burnt", "leak"):
        drains[column] = typed[column].str.lower().map({"true": True, "yes": True, "false": False, "no": False})

    read = NUMBERS + RATINGS + ["drained_on"]
    unreadable = (typed[read].notna() & drains[read].isna()).any(axis=1)
    missing = drains[REQUIRED].isna().any(axis=1) | drains[RATINGS].isna().all(axis=1)
    unlikely = drains["drained_on"] > pd.Timestamp(as_of)
    unlikely |= ~drains["oil_hours"].between(0, 2000, inclusive="right")
    for column in RATINGS:
        unlikely |= drains[column].notna() & ~drains[column].isin([1, 2, 3, 4, 5])
    for column in ("filled_ml", "drained_ml"):
        unlikely |= drains[column].notna() & ~drains[column].between(0, 5000, inclusive="right")
    unlikely |= drains["drained_ml"] > 1.25 * drains["filled_ml"]

    kept = drains[~(unreadable | missing | unlikely)]
    return kept.drop_duplicates().drop_duplicates(SAME_DRAIN, keep=False)
