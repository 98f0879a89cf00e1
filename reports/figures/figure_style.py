"""The palette of every picture and the settings it is drawn with; nothing global is left changed."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, cast

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

INK = "#1d2a30"
SOFT = "#56656c"
GRID = "#d6dddf"
PETROL = "#1f6274"
PETROL_PALE = "#b3d0d7"
PETROL_MID = "#7fabb6"
AMBER = "#b3530b"
AMBER_PALE = "#efd2b3"
PLUM = "#6a4a87"
PAPER = "#fdfdfc"

PALETTE: dict[str, str] = {
    "ink": INK,
    "soft": SOFT,
    "grid": GRID,
    "petrol": PETROL,
    "petrol-pale": PETROL_PALE,
    "petrol-mid": PETROL_MID,
    "amber": AMBER,
    "amber-pale": AMBER_PALE,
    "plum": PLUM,
    "paper": PAPER,
}
"""Name of the page's colour variable and its value on paper. Petrol against amber stays apart for the common
kinds of colour blindness; no meaning rests on colour alone."""

TEXT_SIZE = 11.0
SMALL_TEXT = 9.5

_SETTINGS: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "draincurve",
    "text.parse_math": False,
    "axes.formatter.use_mathtext": False,
    "axes.unicode_minus": True,
    "font.family": ["DejaVu Sans"],
    "font.size": TEXT_SIZE,
    "text.color": INK,
    "axes.edgecolor": SOFT,
    "axes.labelcolor": SOFT,
    "axes.labelsize": SMALL_TEXT + 0.5,
    "axes.linewidth": 0.8,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": False,
    "grid.color": GRID,
    "grid.linewidth": 0.7,
    "xtick.color": SOFT,
    "ytick.color": SOFT,
    "xtick.labelsize": SMALL_TEXT + 0.5,
    "ytick.labelsize": SMALL_TEXT + 0.5,
    "xtick.major.size": 3.0,
    "ytick.major.size": 0.0,
    "figure.dpi": 72.0,
    "savefig.dpi": 72.0,
    "path.simplify": True,
}


Margins = tuple[float, float, float, float]
"""Left, top, right, bottom, in the units of `resize`."""


@contextmanager
def drawing_style() -> Iterator[None]:
    """Our settings for the time of one picture; a letter that the measuring font lacks is no fault.

    The page shows text in the reader's own fonts; matplotlib's font only measures it.
    """
    with matplotlib.rc_context(cast(Any, _SETTINGS)), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"(?s).*Glyph.*missing from font.*")
        warnings.filterwarnings("ignore", message=r".*Matplotlib currently does not support.*")
        yield


def resize(figure: Figure, width: float, height: float) -> None:
    """An empty figure of this size, in units of 1/72 inch, each of which makes a CSS pixel on the page."""
    figure.clear()
    figure.set_size_inches(width / 72.0, height / 72.0)


def axes_at(figure: Figure, left: float, top: float, right: float, bottom: float) -> Axes:
    """Axes with these margins, in the units of `resize`, so that labels keep their room at every height."""
    width, height = figure.get_size_inches() * 72.0
    return figure.add_axes(_box((left, top, right, bottom), width, height))


def panels(figure: Figure, width: float, height: float, margins: Sequence[Margins]) -> list[Axes]:
    """Axes one below the other in a picture of this size: those of the picture before, emptied, where they fit.

    Axes cost more than what is drawn in them, so many small pictures of one shape share theirs.
    """
    found = figure.axes
    box = [_box(margin, width, height) for margin in margins]
    size = (*(figure.get_size_inches() * 72.0), *(edge for axes in found for edge in axes.get_position().bounds))
    wanted = (width, height, *(edge for one in box for edge in one))
    if len(size) == len(wanted) and np.allclose(size, wanted):
        for axes in found:
            for artist in (*axes.lines, *axes.collections, *axes.patches, *axes.texts):
                artist.remove()
        return found
    resize(figure, width, height)
    return [figure.add_axes(one) for one in box]


def _box(margins: Margins, width: float, height: float) -> tuple[float, float, float, float]:
    left, top, right, bottom = margins
    return left / width, bottom / height, (width - left - right) / width, (height - top - bottom) / height


def plain(text: str, longest: int = 64) -> str:
    """Text fit for a picture: one line, no control characters, cut with an ellipsis."""
    line = "".join(letter if letter.isprintable() else " " for letter in text).strip()
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"
