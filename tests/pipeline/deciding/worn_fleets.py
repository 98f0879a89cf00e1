"""Small fleets with measured parts: frames as validation hands them on."""

from datetime import date, timedelta

import polars as pl

from draincurve.pipeline.deciding.wear import WearInputs, decide_wear
from draincurve.schemas.settings import Settings

AS_OF = date(2026, 6, 1)
LIMIT = Settings(wear_limits={"bush clearance": "0.35 mm"})


def day(number):
    return date(2026, 1, 1) + timedelta(days=number)


def drains(rows):
    """rows : (unit, day, oil hours) with service kind and new parts if they matter."""
    full = [(*row, *("oil", None)[len(row) - 3 :]) for row in rows]
    return pl.DataFrame(
        [(unit, day(at), float(hours), kind, parts, "Fork 5") for unit, at, hours, kind, parts in full],
        schema={"unit_key": pl.String, "drained_on": pl.Date, "oil_hours": pl.Float64, "service_kind": pl.String,
                "new_parts": pl.String, "oil_grade": pl.String},
        orient="row",
    )  # fmt: skip


def readings(rows, quantity="bush_clearance", unit="mm"):
    """rows : (unit, day, value, hours) with the day of a rebuild if it matters."""
    full = [(*row, *(None,)[len(row) - 4 :]) for row in rows]
    return pl.DataFrame(
        [
            (key, key, None, day(at), quantity, float(value), unit, None, None, hours, new and day(new), line)
            for line, (key, at, value, hours, new) in enumerate(full, 2)
        ],
        schema={"unit_key": pl.String, "unit_id": pl.String, "site": pl.String, "measured_on": pl.Date,
                "quantity": pl.String, "value": pl.Float64, "unit": pl.String, "code": pl.String, "bound": pl.String,
                "component_hours": pl.Float64, "rebuilt_on": pl.Date, "line": pl.Int64},
        orient="row",
    )  # fmt: skip


def state(units, log):
    last = log.group_by("unit_key").agg(pl.col("drained_on").max().alias("last_drained_on"))
    nothing = pl.Series([None] * len(units), dtype=pl.String)
    frame = pl.DataFrame({"unit_key": units, "unit_id": units, "site": nothing, "signs": nothing})
    return frame.join(last, on="unit_key", how="left", maintain_order="left")


def worn(measured, log, units, settings=LIMIT, oils=None, usage=None):
    """What is decided of a fleet."""
    return decide_wear(WearInputs(measured, log, oils, usage), state(units, log), settings, AS_OF)


def straight(unit, slope, hours, first=0.1):
    """Readings of one part every 20 days that lie on a line but for a few hundredths of the limit."""
    wobble = (0.004, -0.003, 0.002, -0.004)
    return [(unit, 20 * at, first + slope * h + wobble[at % 4], float(h)) for at, h in enumerate(hours)]
