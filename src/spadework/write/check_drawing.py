"""Draws a check: the pad with every measured point, how far it is off, and where to dig and to bring.

High and low differ by the shape of the mark, by the sign of the number and by the hatch of the place, so that they read
in black and white and to an eye that sees no colour.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch, Polygon
from matplotlib.tri import Triangulation

from spadework.fieldcheck import CheckedPoint, FieldCheck, doubts, findings, stage_words, verdict
from spadework.fieldcheck.surface import drawn_in
from spadework.units import FOOT, LengthUnit, format_inches, format_length
from spadework.write.canvas import PNG_DPI, SETTINGS
from spadework.write.labels import Labels
from spadework.write.map_frame import Extent, scale_bar
from spadework.write.map_pad import PAD_LOOKS, RING
from spadework.write.wrapping import wrapped

__all__ = ["check_page", "deviation_words"]

PAGE = (11.69, 8.27)  # A4 on its side [in]
MAP = (0.35, 0.85, 7.1, 7.05)  # left, bottom, width, height of the map [in]
WORDS = 7.7  # where the words begin [in]
MARKS: dict[str, dict[str, Any]] = {
    "high": {"marker": "^", "color": PAD_LOOKS["cut"]["edgecolor"], "markersize": 8, "linestyle": "none"},
    "low": {"marker": "v", "color": PAD_LOOKS["fill"]["edgecolor"], "markersize": 8, "linestyle": "none"},
    "in tolerance": {
        "marker": "o",
        "markerfacecolor": "white",
        "markeredgecolor": "black",
        "markersize": 5.5,
        "linestyle": "none",
    },
}
MINUS = "\u2212"
MUST_LABEL = 60  # points in tolerance are labelled in any case up to so many


def check_page(checks: Sequence[FieldCheck], overrides: Sequence[str] = ()) -> Figure:
    """Return the page of the last of some checks, with the progress over all where there are several.

    Parameters
    ----------
    checks : sequence of FieldCheck
        In the order in which they were made; at least one.
    overrides : sequence of str
        Rules that were set aside.
    """
    check = checks[-1]
    with _settings():
        figure = Figure(figsize=PAGE, dpi=PNG_DPI, facecolor="white")
        FigureCanvasAgg(figure)
        axes = _axes(figure, check)
        _draw_places(axes, check)
        _draw_points(axes, check)
        _below(figure, axes, check)
        _legend(figure, check)
        top = _words(figure, check, overrides)
        if len(checks) > 1:
            _progress(figure, checks, top)
    return figure


def deviation_words(deviation: float, unit: LengthUnit) -> str:
    """Return a deviation as it stands beside a point: ``+12`` [mm], ``−0.04`` [ft] or ``+1/2"``."""
    if unit is LengthUnit.METRE:
        amount = format_length(abs(deviation) * 1000, LengthUnit.METRE, step=0, with_unit=False)
    elif unit is LengthUnit.FOOT:
        amount = format_length(abs(deviation), unit, step=2, with_unit=False)
    else:
        amount = format_inches(abs(deviation), parts=8)
    if not any(digit in amount for digit in "123456789"):
        return amount
    return f"{'+' if deviation > 0 else MINUS}{amount}"


@contextmanager
def _settings() -> Iterator[None]:
    """Set what the drawing relies on for as long as it is made."""
    settings: Any = {**SETTINGS, "svg.hashsalt": "check"}
    with mpl.rc_context(), warnings.catch_warnings():
        mpl.rcdefaults()
        mpl.rcParams.update(settings)
        warnings.filterwarnings("ignore", message="Glyph")
        yield


def _axes(figure: Figure, check: FieldCheck) -> Axes:
    """Return the map, north up, with room round the pad for its labels."""
    wide, high = PAGE
    left, bottom, across, up = MAP
    axes = figure.add_axes((left / wide, bottom / high, across / wide, up / high))
    corners = check.wanted.placement.corners(check.wanted.pad)
    points = np.array([[point.east, point.north] for point in check.points])
    extent = Extent.around(np.vstack([corners, points]), 0.12).filling(across, up)
    axes.set_xlim(extent.west, extent.east)
    axes.set_ylim(extent.south, extent.north)
    axes.set_xticks([])
    axes.set_yticks([])
    return axes


def _draw_places(axes: Axes, check: FieldCheck) -> None:
    """Draw the pad, and hatch where the surface between the points is too high or too low."""
    corners = check.wanted.placement.corners(check.wanted.pad)
    outline = Polygon(corners, closed=True, facecolor="none", edgecolor="black", linewidth=1.8, zorder=6)
    axes.add_patch(outline)
    surface = check.deviations
    if surface is not None:
        place = np.column_stack([surface.east, surface.north]) + surface.origin
        net = Triangulation(place[:, 0], place[:, 1], surface.triangles)
        limit = check.tolerance
        reach = max(float(np.abs(surface.level).max()), limit) + 1.0
        with mpl.rc_context({"hatch.color": "0.45"}):
            filled = axes.tricontourf(
                net,
                surface.level,
                levels=[-reach, -limit, limit, reach],
                colors=[PAD_LOOKS["fill"]["facecolor"], "white", PAD_LOOKS["cut"]["facecolor"]],
                hatches=["---", "", "////"],
                zorder=2,
            )
            filled.set_edgecolor("0.45")
            filled.set_linewidth(0.0)
            filled.set_clip_path(outline.get_path(), outline.get_transform())


def _draw_points(axes: Axes, check: FieldCheck) -> None:
    """Mark every point and write how far it is off, the worst first."""
    for state, look in MARKS.items():
        chosen = [point for point in check.points if point.state == state]
        axes.plot([point.east for point in chosen], [point.north for point in chosen], **look, zorder=8)
    labels = Labels(axes)
    for point in check.points:
        labels.keep_clear(point.east, point.north, 8.0)
    middle = check.wanted.placement
    names = {point.name for point in check.points}
    marked, places = check.wanted.pad.marked
    for name, (east, north) in zip(marked, middle.to_site(places), strict=True):
        if name not in names:
            outward = math.degrees(math.atan2(north - middle.north, east - middle.east))
            labels.beside(
                name, east, north, must=True, first=outward, away=9.0, fontsize=8, fontweight="bold", bbox=RING
            )
    for point in sorted(check.points, key=lambda point: -abs(point.deviation)):
        off = point.state != "in tolerance"
        words = f"{point.name}  {deviation_words(point.deviation, check.wanted.units)}"
        style: dict[str, Any] = {"fontsize": 8.5 if off else 7.5, "fontweight": "bold" if off else "normal"}
        must = off or len(check.points) <= MUST_LABEL
        labels.beside(words, point.east, point.north, away=6.0, must=must, first=_outward(check, point), **style)


def _outward(check: FieldCheck, point: CheckedPoint) -> float:
    """Return the direction away from the middle of the pad, counter-clockwise from the right. [deg]"""
    at = check.wanted.placement
    here = drawn_in(check.wanted.pad, at, np.array([[point.east, point.north]]))[0]
    return math.degrees(math.atan2(float(here[1]) - at.north, float(here[0]) - at.east))


def _below(figure: Figure, axes: Axes, check: FieldCheck) -> None:
    """Draw the scale bar and the north arrow below the map."""
    wide, high = PAGE
    west, east = axes.get_xlim()
    length, words = scale_bar(east - west, check.wanted.units)
    left, bottom, across, _ = MAP
    size = length / (east - west) * across
    bar = figure.add_axes((left / wide, 0.42 / high, size / wide, 0.07 / high))
    bar.set_xlim(0, 4)
    bar.set_ylim(0, 1)
    for part in range(4):
        bar.axvspan(part, part + 1, facecolor="black" if part % 2 == 0 else "white", edgecolor="black", linewidth=0.6)
    bar.set_xticks([])
    bar.set_yticks([])
    figure.text(left / wide, 0.52 / high, "0", fontsize=7, va="bottom")
    figure.text((left + size) / wide, 0.52 / high, words, fontsize=7, ha="center", va="bottom")
    axes.annotate(
        "N",
        xy=(0.975, 0.975),
        xytext=(0.975, 0.90),
        xycoords="axes fraction",
        textcoords="axes fraction",
        ha="center",
        va="center",
        fontsize=9,
        fontweight="bold",
        arrowprops={"arrowstyle": "-|>", "color": "black", "linewidth": 1.4, "mutation_scale": 11},
    )
    unit = {LengthUnit.METRE: "millimetres", LengthUnit.FOOT: "feet", LengthUnit.FOOT_INCH: "inches"}
    figure.text(
        (left + across) / wide,
        (bottom - 0.08) / high,
        f"Beside each point: how far it is off, in {unit[check.wanted.units]}; + is high, {MINUS} is low",
        fontsize=7.5,
        ha="right",
        va="top",
    )


def _legend(figure: Figure, check: FieldCheck) -> None:
    """Explain marks and hatches."""
    wide, high = PAGE
    unit = check.wanted.units
    tolerance = format_inches(check.tolerance) if unit is LengthUnit.FOOT_INCH else format_length(check.tolerance, unit)
    entries: list[tuple[str, Any]] = [
        (f"high by more than {tolerance}: dig", Line2D([], [], **MARKS["high"])),
        (f"low by more than {tolerance}: bring", Line2D([], [], **MARKS["low"])),
        ("in tolerance", Line2D([], [], **MARKS["in tolerance"])),
        ("too high between the points", Patch(facecolor=PAD_LOOKS["cut"]["facecolor"], edgecolor="0.45", hatch="////")),
        ("too low between the points", Patch(facecolor=PAD_LOOKS["fill"]["facecolor"], edgecolor="0.45", hatch="---")),
    ]
    figure.legend(
        [handle for _, handle in entries],
        [words for words, _ in entries],
        loc="lower left",
        bbox_to_anchor=(WORDS / wide, 0.3 / high),
        fontsize=7.5,
        frameon=False,
        borderaxespad=0.0,
    )


def _words(figure: Figure, check: FieldCheck, overrides: Sequence[str]) -> float:
    """Write name, verdict and findings at the right; return where they end. [in]"""
    wide, high = PAGE
    top, room = PAGE[1] - 0.35, (wide - WORDS - 0.35) * 72
    wanted = check.wanted

    def put(words: str, size: float, gap: float, **style: Any) -> None:
        nonlocal top
        for text in wrapped(figure, words, room, size, weight=style.get("fontweight", "normal")):
            figure.text(WORDS / wide, top / high, text, fontsize=size, va="top", parse_math=False, **style)
            top -= size * 1.28 / 72
        top -= gap

    put(wanted.name or "Check", 12, 0.03, fontweight="bold")
    put(", ".join(filter(None, (stage_words(check.stage), check.date, check.file))), 8, 0.08, color="0.3")
    put(verdict(check), 9.5, 0.12, fontweight="bold")
    for sentence in overrides:
        put(sentence, 8, 0.05, fontweight="bold")
    for sentence in findings(check):
        put(sentence, 8, 0.05)
    for sentence in doubts(check):
        put(sentence, 8, 0.05, fontstyle="italic")
    put(f"Checked against {wanted.source}.", 7, 0.1, color="0.3")
    return top


def _progress(figure: Figure, checks: Sequence[FieldCheck], top: float) -> None:
    """Draw the spread of deviations of each check, in the order in which they were made."""
    wide, high = PAGE
    bottom, room = 1.95, top - 1.95 - 0.25
    if room < 0.8:
        return
    unit = checks[-1].wanted.units
    scale = 1000.0 if unit is LengthUnit.METRE else 1 / FOOT if unit is LengthUnit.FOOT else 12 / FOOT
    label = {LengthUnit.METRE: "mm", LengthUnit.FOOT: "ft", LengthUnit.FOOT_INCH: "in"}[unit]
    tall = min(room, 1.9)
    axes = figure.add_axes(((WORDS + 0.45) / wide, bottom / high, (wide - WORDS - 0.85) / wide, tall / high))
    for place, check in enumerate(checks):
        low, high_, mean = (value * scale for value in (check.lowest.deviation, check.highest.deviation, check.mean))
        limit = check.tolerance * scale
        axes.fill_between([place - 0.35, place + 0.35], -limit, limit, color="0.85", linewidth=0, zorder=1)
        axes.plot([place, place], [low, high_], color="black", linewidth=1.6, zorder=3)
        axes.plot([place], [mean], marker="o", color="white", markeredgecolor="black", zorder=4)
    axes.axhline(0, color="black", linewidth=0.6, zorder=2)
    axes.set_xlim(-0.6, len(checks) - 0.4)
    axes.set_xticks(range(len(checks)), [check.date or str(number) for number, check in enumerate(checks, 1)])
    axes.tick_params(labelsize=6.5)
    axes.set_title(f"Progress: highest, mean and lowest [{label}], grey is the tolerance", fontsize=7, loc="left")
