"""What a placement must keep: where the pad may stand, which way it may lie, and how high it may finish."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field

import numpy as np

from spadework.errors import Fault, InputError, Source
from spadework.pad_rings import BoolArray, first_crossing, not_finite, ring_faults, signed_area
from spadework.placement.limit_parts import (
    NOWHERE,
    BearingLimit,
    FacingLimit,
    FinishLimit,
    PositionLimit,
    ReachLimit,
)
from spadework.readings import FloatArray

__all__ = [
    "NOWHERE",
    "BearingLimit",
    "BoolArray",
    "FacingLimit",
    "FinishLimit",
    "KeepOut",
    "Limits",
    "PositionLimit",
    "ReachLimit",
    "first_crossing",
    "signed_area",
]


@dataclass(frozen=True)
class KeepOut:
    """Something that the pad must keep clear of: a point with a radius, or a line or a polygon with a clearance.

    Parameters
    ----------
    name : str
        What it is, in the user's words: ``pear tree``.
    outline : array, shape (n, 2)
        ``east, north`` of its corners in order, either way round; one row for a point; the bends of a line. [m]
    clearance : float
        Least distance from the outline to the pad: the radius, for a point. [m]
    source : Source
        Where it was written.
    open : bool
        Whether it is a line, which ends where it ends and encloses nothing.
    holes : tuple of array, shape (n, 2)
        What an area leaves open: the pad may stand in there. [m]
    """

    name: str
    outline: FloatArray
    clearance: float = 0.0
    source: Source = NOWHERE
    open: bool = False
    holes: tuple[FloatArray, ...] = ()

    @classmethod
    def circle(cls, name: str, centre: tuple[float, float], radius: float, source: Source = NOWHERE) -> KeepOut:
        """Return a circle about ``centre`` (east, north) that the pad may touch but not enter. [m]"""
        return cls(name, np.array([centre], dtype=np.float64), float(radius), source)

    @classmethod
    def polygon(cls, name: str, corners: FloatArray, clearance: float = 0.0, source: Source = NOWHERE) -> KeepOut:
        """Return an area bounded by ``corners`` (shape (n, 2)) that the pad must stay ``clearance`` away from. [m]"""
        return cls(name, np.asarray(corners, dtype=np.float64), float(clearance), source)

    @classmethod
    def line(cls, name: str, places: FloatArray, clearance: float = 0.0, source: Source = NOWHERE) -> KeepOut:
        """Return a line through ``places`` (shape (n, 2)) that the pad must stay ``clearance`` away from. [m]"""
        return cls(name, np.asarray(places, dtype=np.float64), float(clearance), source, open=True)

    @property
    def is_circle(self) -> bool:
        """Whether it is a point with a radius."""
        return len(self.outline) == 1

    @property
    def rings(self) -> tuple[FloatArray, ...]:
        """Closed ways round it and its holes: for a line there and back, so that it encloses nothing. [m]"""
        if not self.open:
            return (self.outline, *self.holes)
        return (np.vstack([self.outline, self.outline[-2:0:-1]]),)


@dataclass(frozen=True)
class Limits:
    """Everything that a placement must keep.

    Parameters
    ----------
    boundary : tuple of arrays, shape (n, 2)
        Rings of the land, ``east, north`` of the corners in order: outlines that do not overlap, and holes. What lies
        in an odd number of them is land. Without any, only the outline of the measured ground limits the pad. [m]
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
    bought : float, optional
        Most soil that may be bought; ``None`` leaves it to the goal: none for one that buys none. [m³ compacted]
    source : Source
        Where the limits were written.
    carted : float, optional
        Most soil that may be left over. [m³ in the bank]
    ground_slope : float, optional
        Greatest slope of the ground under the pad, the mean over it, rise over run.
    reaches : tuple of ReachLimit
        What the pad must not lie too far from.
    facings : tuple of FacingLimit
        What a side of it must face.

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
    bought: float | None = None
    source: Source = NOWHERE
    carted: float | None = None
    ground_slope: float | None = None
    reaches: tuple[ReachLimit, ...] = ()
    facings: tuple[FacingLimit, ...] = ()

    def most_bought(self, *, buys: bool) -> float:
        """Return the most soil that may be short for a goal that buys soil or does not. [m³ compacted]"""
        if self.bought is not None:
            return self.bought
        return math.inf if buys else 0.0

    def __post_init__(self) -> None:
        object.__setattr__(self, "boundary", tuple(np.asarray(ring, dtype=np.float64) for ring in self.boundary))
        faults = [*self._ring_faults(), *self._number_faults()]
        if faults:
            raise InputError(faults)

    def _ring_faults(self) -> Iterable[Fault]:
        for number, ring in enumerate(self.boundary):
            name = "the boundary" if number == 0 else f"ring {number + 1} of the boundary"
            yield from ring_faults(name, np.asarray(ring, dtype=np.float64), self.source)
        for keep_out in self.keep_outs:
            if keep_out.is_circle or keep_out.open:
                if not np.all(np.isfinite(keep_out.outline)):
                    yield not_finite(f"the position of keep-out {keep_out.name!r}", keep_out.source)
            else:
                for ring in keep_out.rings:
                    yield from ring_faults(f"keep-out {keep_out.name!r}", ring, keep_out.source)

    def _number_faults(self) -> Iterable[Fault]:
        lengths = [("setback", self.setback, "m", self.source)]
        lengths += [(f"clearance of keep-out {k.name!r}", k.clearance, "m", k.source) for k in self.keep_outs]
        for name, value in (
            ("exposed-edge", self.exposed_edge),
            ("cut-depth", self.cut_depth),
            ("fill-depth", self.fill_depth),
            *((f"the reach to {reach.name!r}", reach.distance) for reach in self.reaches),
        ):
            if value is not None:
                lengths.append((name, value, "m", self.source))
        for name, value in (("bought", self.bought), ("carted", self.carted)):
            if value is not None:
                lengths.append((name, value, "m³", self.source))
        if self.ground_slope is not None:
            lengths.append(("ground-slope", self.ground_slope, "m/m", self.source))
        for name, value, unit, source in lengths:
            if not (math.isfinite(value) and value >= 0):
                yield Fault(
                    f"{name} is {value:g} {unit}",
                    rule="it is a finite number, zero or more",
                    remedy="Give it without a sign",
                    source=source,
                )
        bearings = [*self.bearing.spans(360.0), *((facing.within, 0.0) for facing in self.facings)]
        if not all(math.isfinite(start + width) and width >= 0 for start, width in bearings):
            yield not_finite("the bearing", self.source)
        points: tuple[ReachLimit | FacingLimit, ...] = (*self.reaches, *self.facings)
        for what in points:
            if not math.isfinite(what.east + what.north):
                yield not_finite(f"the position of {what.name!r}", what.source)
        yield from self._window_faults()
        if self.position is not None and not math.isfinite(self.position.east + self.position.north):
            yield not_finite("the position", self.source)
        if self.finish.kind == "fixed" and (self.finish.level is None or not math.isfinite(self.finish.level)):
            yield Fault(
                "the finish is fixed but has no level",
                rule="a fixed finish is a level in site datum",
                remedy="Give the level, or make the finish free",
                source=self.source,
            )

    def _window_faults(self) -> Iterable[Fault]:
        """Yield what is wrong with the bounds of the finish level."""
        low, high = self.finish.lowest, self.finish.highest
        if low is not None and high is not None and low > high:
            yield Fault(
                f"the finish may be {high:.3f} m at the highest and {low:.3f} m at the lowest",
                rule="the lowest is not above the highest",
                remedy="Change one of them",
                source=self.source,
            )
