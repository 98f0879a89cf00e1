"""Which channels give about the same part of a unit's risk."""

from __future__ import annotations

import numpy as np

from draincurve.pipeline.deciding.next_service import _close_channels


def test_channels_whose_risks_are_close_to_the_largest_are_named_together() -> None:
    risks = {"colour": np.array([0.06, 0.05, 0.0]), "debris": np.array([0.05, 0.03, 0.1])}
    assert _close_channels(risks, 3) == ["colour and debris", "", ""]
    assert _close_channels({"colour": np.array([0.1])}, 1) == [""]
    assert _close_channels({}, 2) == ["", ""]
