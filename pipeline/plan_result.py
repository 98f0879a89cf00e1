"""Everything that one run of the main job found, step by step: what the reports are made from."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from importlib.metadata import version
from typing import Any

from draincurve.pipeline.deciding import Decided, ForecastResult
from draincurve.pipeline.describing import Described
from draincurve.pipeline.fitting import Fitted
from draincurve.pipeline.judging import Judged
from draincurve.pipeline.reading import Log
from draincurve.schemas.settings import Settings

LIBRARIES = ("draincurve", "numpy", "scipy", "numba", "polars", "pandera", "pint", "scikit-learn", "matplotlib")


@dataclass(frozen=True, slots=True, eq=False, repr=False)
class PlanResult:
    """The results of the five steps and of the forecast, None in the report of one site.

    warnings : sentences to read before trusting the answers; timings : seconds of each stage; versions : of Python
    and LIBRARIES; notes : what else run.json says
    """

    settings: Settings
    log: Log
    described: Described
    fitted: Fitted
    judged: Judged
    decided: Decided
    forecast: ForecastResult | None
    warnings: tuple[str, ...] = ()
    timings: Mapping[str, float] = field(default_factory=dict)
    versions: Mapping[str, str] = field(default_factory=dict)
    notes: Mapping[str, Any] = field(default_factory=dict)

    @property
    def as_of(self) -> date:
        """The day the answers are for."""
        return self.log.as_of


def versions_here() -> dict[str, str]:
    """Versions of Python and of LIBRARIES."""
    return {"python": sys.version.split()[0]} | _library_versions()


@cache
def _library_versions() -> dict[str, str]:
    return {name: version(name) for name in LIBRARIES}
