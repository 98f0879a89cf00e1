"""The least values that the shop's laboratory can find, from the settings, in each quantity's unit."""

from __future__ import annotations

from draincurve.pipeline.reading.cleaning.units_of_measurement import measurement_factor
from draincurve.schemas.errors import SettingsError
from draincurve.schemas.quantities import QUANTITY_OF, known_quantity
from draincurve.schemas.settings import Settings
from draincurve.schemas.typed_limits import typed_limit


def detection_limits(settings: Settings) -> dict[str, float]:
    """Limit of detection by quantity. Raises SettingsError for one that is no number in a unit of its quantity."""
    return {
        quantity: value for name, text in settings.detection_limits.items() for quantity, value in [_read(name, text)]
    }


def _read(typed: str, text: str) -> tuple[str, float]:
    where = f"[detection_limits] {typed}"
    name, limit = known_quantity(typed), typed_limit(where, text)
    quantity = QUANTITY_OF.get(name or "")
    if quantity is None or quantity.worse != "rising":
        raise SettingsError(f"{where}: a limit of detection needs a quantity such as iron or water")
    if limit.code is not None or limit.side or limit.from_new or len(limit.numbers) != 1 or limit.numbers[0] <= 0:
        raise SettingsError(f"{where} = {text!r}: write one number over 0 with its unit, such as '1 mg/kg'")
    factor = measurement_factor(limit.unit, quantity) if limit.unit else None
    if factor is not None and factor.factor is None:
        raise SettingsError(f"{where} = {text!r}: {factor.reason}")
    return quantity.name, limit.numbers[0] * (1.0 if factor is None or factor.factor is None else factor.factor)
