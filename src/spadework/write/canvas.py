"""An empty page, a map on it, and how a finished one is written: what all drawings share.

Text stays text in the SVG, and the same plan gives the same bytes.
"""

from __future__ import annotations

import io
import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure

from spadework.write.map_frame import Extent

__all__ = ["drawing_settings", "empty_figure", "map_axes", "png_bytes", "shown_extent", "svg_bytes"]

PNG_DPI = 180
SETTINGS: dict[str, Any] = {
    "svg.fonttype": "none",
    "svg.hashsalt": "spadework",
    "font.family": ["DejaVu Sans"],
    "hatch.linewidth": 0.5,
    "axes.linewidth": 0.8,
    "path.simplify": False,
}


@contextmanager
def drawing_settings(**more: Any) -> Iterator[None]:
    """Set what the drawings rely on for as long as one is made; a script without glyphs in the font draws boxes."""
    settings: Any = {**SETTINGS, **more}
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()  # not the reader's own style: the same plan draws the same everywhere
        mpl.rcParams.update(settings)
        warnings.filterwarnings("ignore", message="Glyph")
        yield


def empty_figure(wide: float, high: float) -> Figure:
    """Return an empty figure. [in]"""
    figure = Figure(figsize=(wide, high), dpi=PNG_DPI, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def map_axes(figure: Figure, box: tuple[float, float, float, float], extent: Extent) -> Axes:
    """Return a map in a box ``left, bottom, width, height`` of the page [in] that shows at least an extent."""
    wide, high = figure.get_size_inches()
    left, bottom, across, up = box
    axes = figure.add_axes((left / wide, bottom / high, across / wide, up / high))
    shown = extent.filling(across, up)
    axes.set_xlim(shown.west, shown.east)
    axes.set_ylim(shown.south, shown.north)
    axes.set_xticks([])
    axes.set_yticks([])
    return axes


def shown_extent(axes: Axes) -> Extent:
    """Return what a map shows."""
    (west, east), (south, north) = axes.get_xlim(), axes.get_ylim()
    return Extent(west, south, east, north)


def svg_bytes(figure: Figure, name: str) -> bytes:
    """Return a figure as SVG, its text as text, without a date.

    Parameters
    ----------
    figure : Figure
        What to write.
    name : str
        Keeps the names inside this drawing apart from those of another on the same page.
    """
    stream = io.BytesIO()
    with drawing_settings(**{"svg.hashsalt": name}):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Title": name})
    # A phone without that font takes one as wide, and never one with serifs.
    return re.sub(rb"(font(?:-family)?: [^;\"]*'DejaVu Sans')", rb"\1, Verdana, sans-serif", stream.getvalue())


def png_bytes(figure: Figure) -> bytes:
    """Return a figure as PNG at 180 dots per inch."""
    stream = io.BytesIO()
    with drawing_settings():
        figure.savefig(stream, format="png", dpi=PNG_DPI, metadata={"Software": None})
    return stream.getvalue()
