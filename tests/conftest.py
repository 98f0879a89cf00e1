"""Settings of the whole suite."""

from __future__ import annotations

from hypothesis import settings

# A busy machine must not fail a test, and a run must not depend on the day's luck.
settings.register_profile("draincurve", deadline=None, derandomize=True)
settings.load_profile("draincurve")
