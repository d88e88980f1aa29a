"""Single limits of a placement: its bearing, its position, what it must reach and face, and its finish level."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["NOWHERE", "BearingLimit", "FacingLimit", "FinishLimit", "PositionLimit", "ReachLimit"]

NOWHERE = Source()


@dataclass(frozen=True, slots=True)
class BearingLimit:
    """Which way the pad may lie.

    Parameters
    ----------
    fixed : float, optional
        The one bearing allowed, clockwise from site north; ``None`` leaves it to the ranges. [deg]
    ranges : tuple of (float, float)
        Ranges allowed, each by its first bearing and how far it goes on clockwise, 0 for that bearing alone; none
        leave it free. [deg]
    """

    fixed: float | None = None
    ranges: tuple[tuple[float, float], ...] = ()

    @property
    def free(self) -> bool:
        """Whether every bearing is allowed."""
        return self.fixed is None and not self.ranges

    @property
    def turns(self) -> bool:
        """Whether a bearing can be moved at all."""
        return self.free or (self.fixed is None and any(width > 0 for _, width in self.ranges))

    def spans(self, turn: float) -> tuple[tuple[float, float], ...]:
        """Return the ranges to be searched: first bearing and width. [deg]

        Parameters
        ----------
        turn : float
            Turn that repeats the pad: what is searched of a free bearing. [deg]
        """
        if self.fixed is not None:
            return ((self.fixed, 0.0),)
        return self.ranges or ((0.0, turn),)

    def held(self, bearings: FloatArray) -> FloatArray:
        """Return the nearest bearing allowed to each, shape (k,). [deg]"""
        if self.free:
            return bearings
        options = []
        for start, width in self.spans(360.0):
            # From the middle of the range, no more than half its width.
            middle = start + width / 2
            away = np.mod(bearings - middle + 180.0, 360.0) - 180.0
            kept = np.clip(away, -width / 2, width / 2)
            options.append((np.abs(away - kept), middle + kept, np.abs(away) <= width / 2))
        least = np.argmin([off for off, _, _ in options], axis=0)
        row = np.arange(len(bearings))
        within = np.array([inside for _, _, inside in options])[least, row]
        return np.where(within, bearings, np.array([at for _, at, _ in options])[least, row])

    def off(self, bearings: FloatArray) -> FloatArray:
        """Return how far each bearing lies outside, 0 where it is allowed, shape (k,). [deg]"""
        held = self.held(bearings)
        return np.abs(np.mod(bearings - held + 180.0, 360.0) - 180.0)


@dataclass(frozen=True, slots=True)
class ReachLimit:
    """A point that the pad must not lie too far from: where stone is tipped, a tap, a door.

    Parameters
    ----------
    name : str
        What it is.
    east, north : float
        Where it is. [m]
    distance : float
        Greatest distance to the pad. [m]
    to : {"nearest", "middle", "farthest"}
        Which point of the pad: the nearest one, its middle, or the farthest one.
    source : Source
        Where it was written.
    """

    name: str
    east: float
    north: float
    distance: float
    to: Literal["nearest", "middle", "farthest"] = "nearest"
    source: Source = NOWHERE


@dataclass(frozen=True, slots=True)
class FacingLimit:
    """A point that a side of the pad must face.

    Parameters
    ----------
    name : str
        What it is.
    east, north : float
        Where it is. [m]
    within : float
        Greatest angle between the way square out from the middle of that side and the way from there to the point.

        [deg]
    side : str
        Letters of the side, as ``BC``.
    source : Source
        Where it was written.
    """

    name: str
    east: float
    north: float
    within: float
    side: str = "BC"
    source: Source = NOWHERE


@dataclass(frozen=True, slots=True)
class PositionLimit:
    """Where the pad must stand.

    Parameters
    ----------
    east, north : float
        The one position allowed. [m]
    corner : str
        Letter of the pad's corner that stands there; empty for the origin of the pad's frame, its centre.
    """

    east: float
    north: float
    corner: str = ""

    def centres(self, pad: Pad, bearings: FloatArray) -> FloatArray:
        """Return where the pad's centre comes to lie at each bearing.

        Parameters
        ----------
        pad : Pad
            The pad.
        bearings : array, shape (k,)
            Clockwise from site north. [deg]

        Returns
        -------
        array, shape (k, 2)
            ``east, north``. [m]

        Raises
        ------
        InputError
            If the pad has no such corner.
        """
        if not self.corner:
            return np.tile([self.east, self.north], (len(bearings), 1))
        names, places = pad.marked
        if self.corner.upper() not in names:
            raise InputError(
                Fault(
                    f"the pad has no corner {self.corner!r}",
                    rule=f"its corners are {', '.join(names)}",
                    remedy="Name one of them, or leave the corner out to fix the centre",
                    value=self.corner,
                )
            )
        place = places[names.index(self.corner.upper())]
        turned = [Placement(0.0, 0.0, float(bearing), 0.0).to_site(place) for bearing in bearings]
        return np.array([self.east, self.north]) - np.array(turned)


@dataclass(frozen=True, slots=True)
class FinishLimit:
    """How high the pad must finish.

    Parameters
    ----------
    kind : {"free", "fixed", "flush", "flush-low"}
        ``"flush"`` and ``"flush-low"``: level with the highest and with the lowest ground along the pad's edge.
    level : float, optional
        The finish level, where it is fixed. [m]
    lowest, highest : float, optional
        Bounds of the finish level. [m]

    Notes
    -----
    A lower bound that leaves ``lowest`` and ``highest`` out is valid, and may be wide. With weights ``s`` of the ground
    the cost at level ``h`` is ``>= ∫ s (z - h)``, so over a window it is least at one of its ends: a box whose best
    level lies outside may be bounded as if the level were fixed at that end.
    """

    kind: Literal["free", "fixed", "flush", "flush-low"] = "free"
    level: float | None = None
    lowest: float | None = None
    highest: float | None = None
