"""Places labels on a drawing so that none lies over another: each takes the first free place on its list.

Greedy: what is placed first has the first choice, so the important labels come first. A label that must be there looks
further and further out and is then joined to its point by a thin line; one that need not is left out.
"""

from __future__ import annotations

import math
import warnings
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from matplotlib.axes import Axes
from matplotlib.text import Text
from matplotlib.transforms import Bbox

__all__ = ["Labels"]

GROUND = {"boxstyle": "square,pad=0.08", "facecolor": "white", "edgecolor": "none", "alpha": 0.8}
"""What a label stands on, so that lines do not strike it out. A halo round the letters would turn text into paths."""

GAP = 2.0  # clear space between labels [points]
REACHES = (1.0, 1.8, 2.8, 4.0, 5.5, 7.5, 10.0, 13.0, 17.0)  # how far out a label that must be there looks
LED = 1.8  # from how far out it is joined to its point
DIRECTIONS = (45, 135, 315, 225, 0, 180, 90, 270)  # counter-clockwise from the right of the page [deg]


class Labels:
    """The labels of one map, and the places that are taken.

    Parameters
    ----------
    axes : Axes
        Map, its limits and its place on the page settled.
    """

    def __init__(self, axes: Axes) -> None:
        self.axes = axes
        self.placed: list[Text] = []
        self._taken: list[Bbox] = []
        self._renderer: Any = axes.figure.canvas.get_renderer()  # type: ignore[attr-defined]
        self._point = axes.figure.dpi / 72.0

    @property
    def metres_per_point(self) -> float:
        """Scale of the map. [m/point]"""
        frame = self.axes.bbox
        west, east = self.axes.get_xlim()
        return float((east - west) / frame.width * self._point)

    def keep_clear(self, east: float, north: float, size: float) -> None:
        """Let no label lie over a mark.

        Parameters
        ----------
        east, north : float
            Where it stands. [m]
        size : float
            Its width. [points]
        """
        across, up = self.axes.transData.transform((east, north))
        half = size / 2 * self._point
        self._taken.append(Bbox.from_extents(across - half, up - half, across + half, up + half))

    def beside(
        self,
        words: str,
        east: float,
        north: float,
        *,
        away: float = 6.0,
        must: bool = False,
        first: float | None = None,
        led: bool = False,
        **style: Any,
    ) -> tuple[float, float] | None:
        """Put a label beside a point.

        Parameters
        ----------
        words : str
            The label; dollar signs and the like are only characters.
        east, north : float
            The point. [m]
        away : float
            How far off it stands when there is room. [points]
        must : bool
            Whether it has to be there.
        first : float, optional
            Direction to try first, counter-clockwise from the right. [deg]
        led : bool
            Whether a line joins it to its point however near it stands.
        **style
            Properties of the text.

        Returns
        -------
        (float, float), optional
            East and north of the label's middle; ``None`` where there was no room. [m]
        """
        directions = (
            DIRECTIONS if first is None else sorted(DIRECTIONS, key=lambda turn: abs((turn - first + 180) % 360 - 180))
        )
        text = self._new(words, style)
        for reach in REACHES if must else REACHES[:1]:
            for direction in directions:
                self._stand(text, east, north, direction, away * reach)
                if self._settle(text):
                    if led or reach >= LED:
                        self._lead(text, east, north)
                    box = self._taken[-1]
                    middle = self.axes.transData.inverted().transform(((box.x0 + box.x1) / 2, (box.y0 + box.y1) / 2))
                    return float(middle[0]), float(middle[1])
        text.remove()
        return None

    def over(self, words: str, places: Iterable[tuple[float, float, float]], **style: Any) -> bool:
        """Put a label centred on the first free one of several places.

        Parameters
        ----------
        words : str
            The label.
        places : iterable of (float, float, float)
            East and north [m] and angle of the writing, counter-clockwise from the right [deg].
        **style
            Properties of the text.

        Returns
        -------
        bool
            Whether there was room.
        """
        text = self._new(words, {"ha": "center", "va": "center", "rotation_mode": "anchor", **style})
        for east, north, angle in places:
            text.set_position((east, north))
            text.set_rotation(readable(angle))
            if self._settle(text):
                return True
        text.remove()
        return False

    def _new(self, words: str, style: dict[str, Any]) -> Text:
        return self.axes.text(0, 0, words, **{"parse_math": False, "bbox": GROUND, "zorder": 9, **style})

    def _stand(self, text: Text, east: float, north: float, direction: float, away: float) -> None:
        """Stand the text off its point in a direction, the near side of the text towards the point."""
        cosine, sine = math.cos(math.radians(direction)), math.sin(math.radians(direction))
        text.set_horizontalalignment("left" if cosine > 0.1 else "right" if cosine < -0.1 else "center")
        text.set_verticalalignment("bottom" if sine > 0.1 else "top" if sine < -0.1 else "center")
        across, up = self.axes.transData.transform((east, north))
        off = away * self._point
        place = self.axes.transData.inverted().transform((across + off * cosine, up + off * sine))
        text.set_position((float(place[0]), float(place[1])))

    def _settle(self, text: Text) -> bool:
        """Return whether the text stands free within the map, and if so keep its place."""
        box = extent(text, self._renderer)
        frame = self.axes.bbox
        inside = box.x0 >= frame.x0 and box.x1 <= frame.x1 and box.y0 >= frame.y0 and box.y1 <= frame.y1
        if not inside:
            return False
        roomy = box.padded(GAP * self._point)
        if any(overlap(roomy, other) for other in self._taken):
            return False
        self._taken.append(box)
        self.placed.append(text)
        return True

    def _lead(self, text: Text, east: float, north: float) -> None:
        """Join a label to its point."""
        end = text.get_position()
        self.axes.plot([east, end[0]], [north, end[1]], color="0.3", linewidth=0.5, zorder=8)


def extent(text: Text, renderer: Any) -> Bbox:
    """Return the box of a text on the page, with the ring round it, if it has one."""
    with warnings.catch_warnings():
        warnings.filterwarnings("ignore", message="Glyph")
        box = text.get_window_extent(renderer)
        ring = text.get_bbox_patch()
        if ring is None:
            return box
        text.update_bbox_position_size(renderer)
        return Bbox.union([box, ring.get_window_extent(renderer)])


def overlap(one: Bbox, other: Bbox) -> bool:
    """Return whether two boxes share more than an edge."""
    return bool(one.x0 < other.x1 and other.x0 < one.x1 and one.y0 < other.y1 and other.y0 < one.y1)


def readable(angle: float) -> float:
    """Return the angle of a line turned so that writing along it is never upside down. [deg]"""
    return (angle + 90.0) % 180.0 - 90.0


def along_line(
    east: Sequence[float], north: Sequence[float], shares: Sequence[float]
) -> Iterator[tuple[float, float, float]]:
    """Yield places along a polyline at shares of its length, with its angle there.

    Parameters
    ----------
    east, north : sequence of float
        Points of the line. [m]
    shares : sequence of float
        Between 0 and 1.
    """
    lengths = [math.hypot(east[i + 1] - east[i], north[i + 1] - north[i]) for i in range(len(east) - 1)]
    total = math.fsum(lengths)
    for share in shares:
        rest, i = share * total, 0
        while i < len(lengths) - 1 and rest > lengths[i]:
            rest -= lengths[i]
            i += 1
        if lengths[i] == 0:
            continue
        part = rest / lengths[i]
        de, dn = east[i + 1] - east[i], north[i + 1] - north[i]
        yield east[i] + part * de, north[i] + part * dn, math.degrees(math.atan2(dn, de))
