"""One visit for what is due near each other in a unit: its service and its parts, at the first of their dates."""

from __future__ import annotations

import polars as pl

from draincurve.schemas.parts_table import SERVICE

SERVICE_VISIT = rf"(?:^|, ){SERVICE}(?:, |$)"
"""Pattern of a visit_with that includes the unit's own service."""


def with_visits(parts: pl.DataFrame, next_service: pl.DataFrame, near_days: int) -> pl.DataFrame:
    """The parts with visit_on and visit_with.

    parts : unit_id, site, part, due_on and more; next_service : the table of that name. Dates of one unit belong to
    one visit as long as each is at most `near_days` after the first of them; the visit is on that first day, so no
    date moves later. visit_with : what else is serviced then, null where nothing is
    """
    service = next_service.select("unit_id", "site", pl.lit(SERVICE).alias("part"), "due_on")
    rows = pl.concat([service, parts.select("unit_id", "site", "part", "due_on")]).drop_nulls("due_on")
    visits: dict[tuple[str, str | None, str], tuple[object, str | None]] = {}
    for (unit, site), dated in rows.group_by("unit_id", "site"):
        first = None
        groups: list[list[str]] = []
        days: list[object] = []
        for part, due in dated.sort("due_on", "part").select("part", "due_on").iter_rows():
            if first is None or (due - first).days > near_days:
                first = due
                groups.append([])
                days.append(first)
            groups[-1].append(part)
        for day, group in zip(days, groups, strict=True):
            for part in group:
                others = [other for other in group if other != part]
                visits[str(unit), site, part] = day, ", ".join(others) or None
    part_visits = [
        (None, None) if due is None else visits[unit, site, part]
        for unit, site, part, due in parts.select("unit_id", "site", "part", "due_on").iter_rows()
    ]
    return parts.with_columns(
        pl.Series("visit_on", [day for day, _ in part_visits], dtype=pl.Date),
        pl.Series("visit_with", [others for _, others in part_visits], dtype=pl.String),
    )
