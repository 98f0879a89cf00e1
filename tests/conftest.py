"""Settings of the whole suite."""

from __future__ import annotations

from hypothesis import settings
from running_postgresql import postgresql_server
from running_workers import running_workers

# A busy machine must not fail a test, and a run must not depend on the day's luck.
settings.register_profile("draincurve", deadline=None, derandomize=True)
settings.load_profile("draincurve")

__all__ = ["postgresql_server", "running_workers"]
