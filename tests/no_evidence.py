"""Plans without what only their report shows, a third of a small plan's time: for tests of a plan's answers."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest


@contextmanager
def no_evidence() -> Iterator[None]:
    """Links are not compared, raters not judged, and earlier predictions not tried; no interval rests on these."""
    from draincurve.pipeline.judging import judged

    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(judged, "_trust", lambda *_, **__: ())
        patch.setattr(judged, "backtest", lambda *_, **__: "Not tried in this test.")
        yield
