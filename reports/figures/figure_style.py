"""The palette of every picture, the settings it is drawn with, and its axes; no global setting is left changed."""

from __future__ import annotations

import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any, Literal, NamedTuple, cast

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
"""Name of the page's colour variable and its value on paper. Petrol and amber stay distinct for the common kinds of
colour blindness; no meaning is carried by colour alone."""

TEXT_SIZE = 11.0
SMALL_TEXT = 9.5

DASHED = (0, (5, 3))
"""Line style of limits and of the accepted risk."""

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


class Margins(NamedTuple):
    """Room around axes, in the units of `resize`."""

    left: float
    top: float
    right: float
    bottom: float


@contextmanager
def drawing_style() -> Iterator[None]:
    """Our settings while one picture is drawn; no warning about a letter that the measuring font lacks.

    The page shows text in the reader's own fonts; matplotlib's font only measures it.
    """
    with matplotlib.rc_context(cast(Any, _SETTINGS)), warnings.catch_warnings():
        warnings.filterwarnings("ignore", message=r"(?s).*Glyph.*missing from font.*")
        warnings.filterwarnings("ignore", message=r".*Matplotlib currently does not support.*")
        yield


@contextmanager
def single_axes(figure: Figure, *, width: float, height: float, margins: Margins) -> Iterator[Axes]:
    """The only axes of an emptied figure, to draw in under our settings until the block ends."""
    resize(figure, width=width, height=height)
    with drawing_style():
        yield axes_at(figure, margins)


def resize(figure: Figure, *, width: float, height: float) -> None:
    """Empties a figure and gives it this size, in units of 1/72 inch, each of which is a CSS pixel on the page."""
    for axes in figure.axes:
        figure.delaxes(axes)  # `clear` alone would first give each new axis and ticks, which cost as much as its own
    figure.clear()
    figure.set_size_inches(width / 72.0, height / 72.0)


def axes_at(figure: Figure, margins: Margins) -> Axes:
    """Axes with these margins, so that labels keep their room at every height."""
    width, height = figure.get_size_inches() * 72.0
    return figure.add_axes(_box(margins, width, height=height))


def panels(figure: Figure, margins: Sequence[Margins], *, width: float, height: float) -> list[Axes]:
    """One axes for each of the margins, in a picture of this size; those of the last picture, emptied, if they fit.

    Axes cost more than what is drawn in them, so many small pictures of one shape share theirs.
    """
    existing = figure.axes
    boxes = [_box(margin, width, height=height) for margin in margins]
    edges = (edge for axes in existing for edge in axes.get_position().bounds)
    shape = (*(figure.get_size_inches() * 72.0), *edges)
    wanted = (width, height, *(edge for box in boxes for edge in box))
    if len(shape) == len(wanted) and np.allclose(shape, wanted):
        for axes in existing:
            for artist in (*axes.lines, *axes.collections, *axes.patches, *axes.texts):
                artist.remove()
        return existing
    resize(figure, width=width, height=height)
    return [figure.add_axes(box) for box in boxes]


def grid_behind(axes: Axes, axis: Literal["x", "y", "both"]) -> None:
    """Grid lines behind what is drawn."""
    axes.grid(axis=axis, color=GRID)
    axes.set_axisbelow(True)


def accepted_label(accepted_risk: float) -> str:
    """The label of the accepted risk's line."""
    return f"accepted {100.0 * accepted_risk:.3g} %"


def label_text(text: str, longest: int = 64) -> str:
    """Text that a picture can show: one line, no control characters, cut with an ellipsis."""
    line = "".join(letter if letter.isprintable() else " " for letter in text).strip()
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def _box(margins: Margins, width: float, *, height: float) -> tuple[float, float, float, float]:
    left, top, right, bottom = margins
    return left / width, bottom / height, (width - left - right) / width, (height - top - bottom) / height
