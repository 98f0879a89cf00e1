"""matplotlib's SVG renderer for a page of many pictures: it measures each text once, and names no parts."""

from __future__ import annotations

from functools import lru_cache
from typing import Literal

from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.font_manager import FontProperties
from matplotlib.textpath import text_to_path


class PageRenderer(RendererSVG):
    """A renderer without the groups that only name an artist: they are half of the tags of an SVG file."""

    def open_group(self, s: str, gid: str | None = None) -> None:
        """An artist begins: nothing is written."""

    def close_group(self, s: str) -> None:
        """An artist ends: nothing is written."""

    def get_text_width_height_descent(
        self, s: str, prop: FontProperties, ismath: bool | Literal["TeX"]
    ) -> tuple[float, float, float]:
        """Width, height and descent of a text [px]; most numbers and labels are in several pictures."""
        return _measured(s, prop, ismath)


@lru_cache(maxsize=4096)
def _measured(text: str, font: FontProperties, ismath: bool | Literal["TeX"]) -> tuple[float, float, float]:
    """The size of a text, which costs a third of drawing it; matplotlib itself keeps it for one picture only."""
    return text_to_path.get_text_width_height_descent(text, font, ismath)
