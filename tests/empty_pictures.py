"""Reports with empty pictures, whose drawing takes most of a small report's time: for tests that read words."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest

from draincurve.reports.figures import svg_picture


@contextmanager
def empty_pictures() -> Iterator[None]:
    """Every picture is in its place, and nothing is drawn in it."""
    with pytest.MonkeyPatch.context() as patch:
        for name, module in list(sys.modules.items()):
            if name.startswith("draincurve.reports.content"):
                for drawing in [name for name in vars(module) if name.startswith("draw_")]:
                    patch.setattr(module, drawing, _draw_nothing)
        patch.setattr(svg_picture, "_saved", lambda _: '<svg viewBox="0 0 1 1"></svg>')
        yield


def _draw_nothing(*_: Any, **__: Any) -> None:
    pass
