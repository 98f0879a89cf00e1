"""Reports with empty pictures, whose drawing takes most of a small report's time: for tests that read words."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest

from draincurve.reports.figures import svg_picture


@contextmanager
def empty_pictures() -> Iterator[None]:
    """Every picture is laid out as ever, and holds nothing."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(svg_picture, "_saved", lambda _: '<svg viewBox="0 0 1 1"></svg>')
        yield
