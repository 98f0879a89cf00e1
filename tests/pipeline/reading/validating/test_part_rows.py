"""The table of parts: what is held back, and that every row ends in one place."""

import pytest

from draincurve.pipeline.reading.validating.part_rows import limit_fault

KIND = {"unit_id": None, "unit_kind": "leg 48", "part": "Seals", "max_hours": "40"}
OWN = {"unit_id": "F07", "part": "Seals", "fitted_on": "2026-01-01"}


def test_what_cannot_be_right_is_held_back(check):
    rows = [
        KIND,
        OWN,
        OWN,
        KIND | {"part": "bushes", "fitted_on": "2026-01-01"},
        {"part": "bushes", "max_hours": "10"},
        {"unit_id": "F07", "part": "bushes"},
        {"unit_id": "F07", "part": "bushes", "quantity": "bush clearance", "wear_limit": "0.3 kg"},
        {"unit_id": "F07", "part": "bushes", "quantity": "bush clearance", "wear_limit": "0.3 mm"},
        {"unit_id": "F07", "part": "rod", "max_days": "2 years", "fitted_on": "2027-01-01"},
    ]
    log = check({"drained_on": "2026-03-04"}, parts=rows)
    assert log.accepted["parts"].sort("line")["line"].to_list() == [2, 3, 9]
    assert log.held_back.sort("line")["line"].to_list() == [4, 5, 6, 7, 8, 10]
    account = log.accounts[-1]
    assert (account.read, account.accepted, account.held_back) == (9, 3, 6)


@pytest.mark.parametrize(
    ("quantity", "limit", "said"),
    [
        ("bush clearance", "0.3 mm", None),
        ("ISO code", "18/16/13", None),
        ("iron", "18/16/13", "limits the ISO code"),
        ("viscosity at 40", "14", "leaves open"),
        ("viscosity at 40", "10 % from new", None),
        ("twist", "2 deg", "leaves open"),
        ("twist", "over 2 deg", None),
        ("iron", "lots", "is no limit"),
    ],
)
def test_limits_of_wear(quantity, limit, said):
    found = limit_fault(quantity, limit)
    assert found is None if said is None else said in (found or "")
