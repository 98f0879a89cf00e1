"""Oil to have ready: how much each unit takes, and the litres of several by grade."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from draincurve.pipeline.describing import fill_volumes
from draincurve.pipeline.plan_result import PlanResult
from draincurve.reports.content import wording
from draincurve.reports.content.work_text import Amount


def fill_amounts(result: PlanResult) -> dict[str, Amount]:
    """What each unit takes, by its name."""
    volumes = fill_volumes(result.described.drains, result.described.units)
    return {
        key: Amount(register, logged)
        for key, register, logged in volumes.select("unit_key", "register_ml", "logged_ml").iter_rows()
    }


def oil_by_site(fills: Iterable[tuple[str, str | None, float | None]]) -> str:
    """Litres by grade, site by site where there are several; empty without a unit.

    fills : site, grade and litres of each unit [l]; an empty site, and None, are not known
    """
    sites: dict[str, list[tuple[str | None, float | None]]] = {}
    for site, grade, litres in fills:
        sites.setdefault(site, []).append((grade, litres))
    ordered = sorted(sites, key=lambda site: (not site, site))
    if len(ordered) == 1:
        return litres_text(sites[ordered[0]])
    return "; ".join(f"{site or 'site not known'}: {litres_text(sites[site])}" for site in ordered)


def litres_text(fills: Iterable[tuple[str | None, float | None]]) -> str:
    """Litres by grade, and for how many units the amount, the oil or both are not known; empty without a unit.

    fills : grade and litres of each unit [l], None where not known
    """
    grades: dict[str, float] = {}
    unknown: Counter[str] = Counter()
    for grade, litres in fills:
        if grade is None or litres is None:
            known = (
                "the amount is" if grade is not None else "the oil is" if litres is not None else "oil and amount are"
            )
            unknown[f"{known} not known"] += 1
        else:
            grades[grade] = grades.get(grade, 0.0) + litres
    parts = [f"{litres:.2f}\u00a0l {grade}" for grade, litres in sorted(grades.items())]
    parts += [f"for {wording.counted(count, 'unit')} {what}" for what, count in sorted(unknown.items())]
    return ", ".join(parts)
