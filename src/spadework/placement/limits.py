"""What a placement must keep: where the pad may stand, which way it may lie, and how high it may finish."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.pad import Pad, Placement
from spadework.pad_rings import BoolArray, first_crossing, not_finite, ring_faults, signed_area
from spadework.readings import FloatArray

__all__ = [
    "BearingLimit",
    "BoolArray",
    "FinishLimit",
    "KeepOut",
    "Limits",
    "PositionLimit",
    "first_crossing",
    "signed_area",
]

NOWHERE = Source()


@dataclass(frozen=True)
class KeepOut:
    """Something that the pad must keep clear of: a point with a radius, or a polygon with a clearance.

    Parameters
    ----------
    name : str
        What it is, in the user's words: ``pear tree``.
    outline : array, shape (n, 2)
        ``east, north`` of its corners in order, either way round; one row for a point. [m]
    clearance : float
        Least distance from the outline to the pad: the radius, for a point. [m]
    source : Source
        Where it was written.
    """

    name: str
    outline: FloatArray
    clearance: float = 0.0
    source: Source = NOWHERE

    @classmethod
    def circle(cls, name: str, centre: tuple[float, float], radius: float, source: Source = NOWHERE) -> KeepOut:
        """Return a circle about ``centre`` (east, north) that the pad may touch but not enter. [m]"""
        return cls(name, np.array([centre], dtype=np.float64), float(radius), source)

    @classmethod
    def polygon(cls, name: str, corners: FloatArray, clearance: float = 0.0, source: Source = NOWHERE) -> KeepOut:
        """Return an area bounded by ``corners`` (shape (n, 2)) that the pad must stay ``clearance`` away from. [m]"""
        return cls(name, np.asarray(corners, dtype=np.float64), float(clearance), source)

    @property
    def is_circle(self) -> bool:
        """Whether it is a point with a radius."""
        return len(self.outline) == 1


@dataclass(frozen=True, slots=True)
class BearingLimit:
    """Which way the pad may lie.

    Parameters
    ----------
    fixed : float, optional
        The one bearing allowed, clockwise from site north; ``None`` leaves it free. [deg]
    """

    fixed: float | None = None


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
        if self.corner.upper() not in pad.names:
            raise InputError(
                Fault(
                    f"the pad has no corner {self.corner!r}",
                    rule=f"its corners are {', '.join(pad.names)}",
                    remedy="Name one of them, or leave the corner out to fix the centre",
                    value=self.corner,
                )
            )
        row = pad.names.index(self.corner.upper())
        turned = [Placement(0.0, 0.0, float(bearing), 0.0).to_site(pad.outline[row]) for bearing in bearings]
        return np.array([self.east, self.north]) - np.array(turned)


@dataclass(frozen=True, slots=True)
class FinishLimit:
    """How high the pad must finish.

    Parameters
    ----------
    kind : {"free", "fixed", "flush"}
        ``"flush"``: level with the highest ground along the pad's edge.
    level : float, optional
        The finish level, where it is fixed. [m]
    """

    kind: Literal["free", "fixed", "flush"] = "free"
    level: float | None = None


@dataclass(frozen=True)
class Limits:
    """Everything that a placement must keep.

    Parameters
    ----------
    boundary : tuple of arrays, shape (n, 2)
        Rings of the land, ``east, north`` of the corners in order: the outline first, then holes. Without any, only
        the outline of the measured ground limits the pad. [m]
    setback : float
        Least distance from the pad to every ring; without a boundary, to the outline of the measured ground. [m]
    keep_outs : tuple of KeepOut
        What the pad keeps clear of.
    bearing : BearingLimit
        Which way it may lie.
    position : PositionLimit, optional
        Where it must stand; ``None`` leaves it free.
    finish : FinishLimit
        How high it must finish.
    exposed_edge : float, optional
        Greatest height of the finish above the ground along the edge. [m]
    cut_depth, fill_depth : float, optional
        Greatest depth of cut and of fill, measured from the stripped ground to the formation. [m]
    bought : float
        Most soil that may be bought, for a goal that buys none of its own accord. [m³ compacted]
    source : Source
        Where the limits were written.

    Raises
    ------
    InputError
        With every fault at once: a ring of fewer than three corners, without area or crossing itself, a negative
        distance, a fixed finish without its level, a number that is not finite.
    """

    boundary: tuple[FloatArray, ...] = ()
    setback: float = 0.0
    keep_outs: tuple[KeepOut, ...] = ()
    bearing: BearingLimit = field(default_factory=BearingLimit)
    position: PositionLimit | None = None
    finish: FinishLimit = field(default_factory=FinishLimit)
    exposed_edge: float | None = None
    cut_depth: float | None = None
    fill_depth: float | None = None
    bought: float = 0.0
    source: Source = NOWHERE

    def __post_init__(self) -> None:
        object.__setattr__(self, "boundary", tuple(np.asarray(ring, dtype=np.float64) for ring in self.boundary))
        faults = [*self._ring_faults(), *self._number_faults()]
        if faults:
            raise InputError(faults)

    def _ring_faults(self) -> Iterable[Fault]:
        for number, ring in enumerate(self.boundary):
            name = "the boundary" if number == 0 else f"hole {number} of the boundary"
            yield from ring_faults(name, np.asarray(ring, dtype=np.float64), self.source)
        for keep_out in self.keep_outs:
            if keep_out.is_circle:
                if not np.all(np.isfinite(keep_out.outline)):
                    yield not_finite(f"the position of keep-out {keep_out.name!r}", keep_out.source)
            else:
                yield from ring_faults(f"keep-out {keep_out.name!r}", keep_out.outline, keep_out.source)

    def _number_faults(self) -> Iterable[Fault]:
        lengths = [("setback", self.setback, "m", self.source)]
        lengths += [(f"clearance of keep-out {k.name!r}", k.clearance, "m", k.source) for k in self.keep_outs]
        for name, value in (
            ("exposed-edge", self.exposed_edge),
            ("cut-depth", self.cut_depth),
            ("fill-depth", self.fill_depth),
        ):
            if value is not None:
                lengths.append((name, value, "m", self.source))
        lengths.append(("bought", self.bought, "m³", self.source))
        for name, value, unit, source in lengths:
            if not (math.isfinite(value) and value >= 0):
                yield Fault(
                    f"{name} is {value:g} {unit}",
                    rule="it is a finite number, zero or more",
                    remedy="Give it without a sign",
                    source=source,
                )
        if self.bearing.fixed is not None and not math.isfinite(self.bearing.fixed):
            yield not_finite("the bearing", self.source)
        if self.position is not None and not math.isfinite(self.position.east + self.position.north):
            yield not_finite("the position", self.source)
        if self.finish.kind == "fixed" and (self.finish.level is None or not math.isfinite(self.finish.level)):
            yield Fault(
                "the finish is fixed but has no level",
                rule="a fixed finish is a level in site datum",
                remedy="Give the level, or make the finish free",
                source=self.source,
            )
