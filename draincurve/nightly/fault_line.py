"""One line on why a night failed."""

from __future__ import annotations

import traceback
from pathlib import Path

from draincurve.schemas.errors import DraincurveError, file_fault_line


def fault_line(fault: Exception) -> str:
    """One line on a fault.

    Of one that nobody foresaw only kind and place are said, since its words may hold what must not be printed.
    """
    if isinstance(fault, DraincurveError):
        return " ".join(str(fault).split())
    if isinstance(fault, OSError):
        return file_fault_line(fault)
    if isinstance(fault, MemoryError):
        return "not enough memory; give the machine or the timer more"
    place = traceback.extract_tb(fault.__traceback__)[-1]
    return (
        f"a fault of the program ({type(fault).__name__} in {Path(place.filename).name}, line {place.lineno}); "
        "please report it"
    )
