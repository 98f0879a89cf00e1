"""The catalogue of measured quantities, and limits as a shop writes them."""

import pytest

from draincurve.schemas.errors import SettingsError
from draincurve.schemas.quantities import ISO_CODE, NAMES, QUANTITIES, QUANTITY_OF, known_quantity
from draincurve.schemas.typed_limits import typed_limit


def test_every_quantity_says_what_it_is_and_what_is_plausible():
    assert len(QUANTITY_OF) == len(QUANTITIES)
    for quantity in QUANTITIES:
        assert quantity.meaning
        assert quantity.low < quantity.high
        assert quantity.unit
        assert quantity.scale == "linear" or quantity.low >= 0
        assert known_quantity(quantity.name) == known_quantity(quantity.title) == quantity.name


@pytest.mark.parametrize(
    ("typed", "name"),
    [
        ("Fe", "iron"),
        ("iron ppm", "iron"),
        ("Aluminum", "aluminium"),
        ("bush clr", "bush_clearance"),
        ("Free Length", "spring_free_length"),
        ("KV 40", "viscosity_40"),
        ("visc @100", "viscosity_100"),
        ("Particles > 4 um", "particles_4um"),
        ("ISO code", ISO_CODE),
        ("D1500", "colour_d1500"),
        ("fork twist", None),
    ],
)
def test_names_as_shops_type_them(typed, name):
    assert known_quantity(typed) == name


def test_no_name_means_two_quantities():
    for quantity in QUANTITIES:
        for word in quantity.words.split(","):
            if word.strip():
                assert known_quantity(word) == quantity.name, word
    assert set(NAMES.values()) == {*QUANTITY_OF, ISO_CODE}


@pytest.mark.parametrize(
    ("text", "side", "numbers", "unit", "from_new"),
    [
        ("0.35 mm", None, (0.35,), "mm", False),
        ("0,35mm", None, (0.35,), "mm", False),
        ("over 3", "over", (3.0,), "", False),
        ("Under 462 mm", "under", (462.0,), "mm", False),
        ("12 to 16 mm2/s", None, (12.0, 16.0), "mm2/s", False),
        ("10 % from new", None, (10.0,), "%", True),
    ],
)
def test_limits_as_written(text, side, numbers, unit, from_new):
    limit = typed_limit("[wear_limits] x", text)
    assert (limit.side, limit.numbers, limit.unit, limit.from_new) == (side, numbers, unit, from_new)


def test_a_code_is_a_limit_of_three():
    assert typed_limit("x", "18/16/13").code == (18, 16, 13)


@pytest.mark.parametrize(
    ("text", "wording"),
    [
        ("a lot", "expected a limit such as"),
        ("5 mm from new", "in percent"),
        ("over 5 % from new", "one number over 0"),
        ("0 % from new", "one number over 0"),
        ("16 to 12 mm", "smaller to its larger"),
        ("over 12 to 16", "without more"),
    ],
)
def test_limits_that_cannot_be_read_name_themselves(text, wording):
    with pytest.raises(SettingsError, match=wording) as fault:
        typed_limit("[wear_limits] iron", text)
    assert "[wear_limits] iron" in str(fault.value)
