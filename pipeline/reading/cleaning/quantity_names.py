"""Names of measured quantities as typed in a cell or a header, perhaps with a unit behind them, such as Fe (ppm)."""

from __future__ import annotations

import re

from draincurve.pipeline.reading.cleaning.spelling_keys import spelling_key
from draincurve.schemas.quantities import known_quantity, squashed_name
from draincurve.schemas.settings import Settings

_UNIT_BEHIND = re.compile(
    r"(?:\(([^()]+)\)|\[([^\[\]]+)\]|\b(ppm|percent|cst|mm2/s|mm²/s|mg/kg|mgkg)|(%))\s*$", re.IGNORECASE
)


def without_unit(typed: str) -> str:
    """The name alone; the text itself where nothing else is left."""
    bare = _UNIT_BEHIND.sub("", typed)
    return bare if squashed_name(bare) else typed


def unit_behind(typed: str) -> str:
    """The unit behind the name; empty where there is none."""
    match = _UNIT_BEHIND.search(typed)
    return next((part for part in match.groups() if part), "") if match else ""


def measured_header(header: str, settings: Settings) -> str | None:
    """The quantity that a header of a laboratory's table means, None where it means none.

    That is one that is known here, one that the settings' [words.quantity] name, or one that has a limit there.
    """
    named = {spelling_key(word): meaning for word, meaning in settings.words_of("quantity").items()}
    typed = named.get(spelling_key(header), header)
    known = known_quantity(typed) or known_quantity(without_unit(typed))
    limited = {squashed_name(name) for name in (*settings.wear_limits, *settings.maker_wear_limits)}
    if known is None and squashed_name(without_unit(typed)) in limited:
        return without_unit(typed).strip()
    return known
