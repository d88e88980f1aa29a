"""A coarse raster tied to a few good shots: shifted, tilted, and bent by the smooth rest that the shots ask for."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np

from spadework.errors import GroundError
from spadework.ground.covariance import Covariance
from spadework.ground.process import FEWEST_SHOTS, LEVEL_SD, GroundProcess, fit_process
from spadework.ground.surface import Ground
from spadework.readings import FloatArray
from spadework.shots import Shots
from spadework.units import LengthUnit, format_length

__all__ = ["TiedRaster", "tie_raster"]

FEWEST_FOR_TILT = 4
"""With fewer shots nothing would check a tilt."""
NARROWEST = 0.1
"""Shots whose width is less than this share of their length say nothing of a tilt across."""

How = Literal["shift", "tilt", "smooth"]


@dataclass(frozen=True, eq=False)
class TiedRaster:
    """A raster laid through shots, with how far it was from them before and after.

    Parameters
    ----------
    ground : Ground
        The raster, tied.
    how : str
        ``"shift"`` up or down; ``"tilt"`` by a plane as well; ``"smooth"`` by a plane and a Gaussian process.
    names : tuple of str, length n
        Shots on the raster.
    before, after : array, shape (n,)
        Shots less raster. [m]
    left_out : array, shape (n,)
        Each shot less the raster tied to all the others: what a new shot would find. [m]
    shift : float
        Mean rise of the raster at the shots. [m]
    slope, aspect : float
        Tilt, as rise over run, and the bearing in which it falls. [deg]
    covariance : Covariance, optional
        Of the smooth rest.
    process : GroundProcess, optional
        The smooth rest with how sure it is.
    middle : array, shape (2,)
        Where the plane counts from. [m]
    shares : array, shape (3, 3)
        Covariance of the plane's terms, at the middle, by east and by north, for differences of variance 1.
    free : int
        Shots more than the terms that were fitted to them: what checks a shift or a tilt.
    """

    ground: Ground
    how: How
    names: tuple[str, ...]
    before: FloatArray
    after: FloatArray
    left_out: FloatArray
    shift: float
    slope: float = 0.0
    aspect: float = 0.0
    covariance: Covariance | None = None
    process: GroundProcess | None = None
    middle: FloatArray = field(default_factory=lambda: np.zeros(2))
    shares: FloatArray = field(default_factory=lambda: np.zeros((3, 3)))
    free: int = 0

    @property
    def before_rms(self) -> float:
        """Root mean square distance of the shots from the raster as it was. [m]"""
        return _rms(self.before)

    @property
    def after_rms(self) -> float:
        """The same once it is tied. [m]"""
        return _rms(self.after)

    @property
    def left_out_rms(self) -> float:
        """Root mean square distance of shots from the raster tied to the others. [m]"""
        return _rms(self.left_out)

    def __str__(self) -> str:
        """Return how the raster was tied and what that did, in metres."""
        tilt = f", tilted by {self.slope * 1000:.1f} mm per metre towards {self.aspect:.0f}°" if self.slope else ""
        bend = f", bent by a smooth rest ({self.covariance})" if self.covariance is not None else ""
        checked = (
            f"; a shot left out is missed by {_rms(self.left_out):.3f} m"
            if np.isfinite(self.left_out).any()
            else "; nothing checks it"
        )
        return (
            f"raster tied to {len(self.names)} shot{'s' if len(self.names) > 1 else ''}: shifted by "
            f"{self.shift:+.3f} m{tilt}{bend}. Off the shots by {_rms(self.before):.3f} m before, "
            f"{_rms(self.after):.3f} m after (root mean square){checked}"
        )


def tie_raster(ground: Ground, shots: Shots, *, noise: float = 0.0, unit: LengthUnit = LengthUnit.METRE) -> TiedRaster:
    """Return the ground of a raster laid through shots.

    One to three shots shift it; four to seven, not on a line, tilt it as well; from eight on a Gaussian process with a
    linear trend is fitted to the differences, each shot with its own standard deviation, and added to every corner.

    Parameters
    ----------
    ground : Ground
        The raster as it is.
    shots : Shots
        Levels that are trusted more than it; those outside the raster or without a level say nothing of it.
    noise : float
        Standard deviation of a cell's level, where it is known: the tie does not bend after it. [m]
    unit : LengthUnit
        The user's unit, for messages.

    Returns
    -------
    TiedRaster

    Raises
    ------
    GroundError
        If no shot stands on the raster.
    """
    standing = np.flatnonzero(np.isfinite(shots.east + shots.north + shots.level))
    drawn = ground.level_at(np.column_stack([shots.east[standing], shots.north[standing]]))
    rows = standing[np.isfinite(drawn)]
    if not len(rows):
        west, south, east, north = (format_length(side, unit) for side in ground.bounds)
        raise GroundError(
            f"None of the {len(standing)} shots stands on the raster, which reaches from east {west}, north {south} "
            f"to east {east}, north {north}. Are shots and raster in the same axes?"
        )
    used = shots.take(rows)
    places = np.column_stack([used.east, used.north])
    before = used.level - drawn[np.isfinite(drawn)]
    corners = np.column_stack([ground.east, ground.north]) + ground.origin
    slope, aspect = 0.0, 0.0
    process, shares, terms = None, np.zeros((3, 3)), 1
    shares[0, 0] = 1.0 / len(before)
    plane = _Plane.of(places, before)
    how: How
    if len(rows) >= FEWEST_SHOTS and plane.spread:
        how = "smooth"
        process = fit_process(replace(used, level=before, level_sd=np.hypot(_known_sd(used), noise)))
        rise, left_out = process.mean(corners), process.leave_one_out().error
    elif len(rows) >= FEWEST_FOR_TILT and plane.spread:
        how, rise, left_out = "tilt", plane.at(corners), plane.left_out
        shares, terms = plane.shares, 3
    else:
        how, rise = "shift", np.full(len(corners), before.mean())
        many = len(before) > 1
        left_out = (before - before.mean()) * len(before) / (len(before) - 1) if many else np.full(1, np.nan)
    if how != "shift":
        slope, aspect = plane.slope, plane.aspect
    tied = replace(ground, level=ground.level + rise, kind="tied raster")
    after = used.level - tied.level_at(places)
    return TiedRaster(
        ground=tied,
        how=how,
        names=used.point,
        before=before,
        after=after,
        left_out=left_out,
        shift=float(before.mean()),
        slope=slope,
        aspect=aspect,
        covariance=None if process is None else process.covariance,
        process=process,
        middle=plane.middle,
        shares=shares,
        free=len(before) - terms,
    )


def _known_sd(shots: Shots) -> FloatArray:
    """Return the standard deviation of each level, that of a laser where it is not known. [m]"""
    if shots.level_sd is None:
        return np.full(len(shots), LEVEL_SD)
    known: FloatArray = np.where(np.isfinite(shots.level_sd), shots.level_sd, LEVEL_SD)
    return known


@dataclass(frozen=True, eq=False)
class _Plane:
    """The plane of least squares through differences."""

    middle: FloatArray
    terms: FloatArray
    left_out: FloatArray
    spread: bool
    shares: FloatArray = field(default_factory=lambda: np.zeros((3, 3)))

    @classmethod
    def of(cls, places: FloatArray, value: FloatArray) -> _Plane:
        middle = places.mean(axis=0)
        about = places - middle
        sizes = np.linalg.svd(about, compute_uv=False) if len(places) > 2 else np.zeros(2)
        if not (len(sizes) == 2 and sizes[1] > NARROWEST * sizes[0] > 0):
            return cls(middle, np.zeros(3), np.full(len(value), np.nan), spread=False)
        columns = np.column_stack([np.ones(len(value)), about])
        terms = np.linalg.lstsq(columns, value, rcond=None)[0]
        share = np.einsum("ij,ji->i", columns, np.linalg.pinv(columns))
        with np.errstate(divide="ignore", invalid="ignore"):
            left_out = np.where(share < 1 - 1e-9, (value - columns @ terms) / (1 - share), np.nan)
        return cls(middle, terms, left_out, spread=True, shares=np.linalg.inv(columns.T @ columns))

    def at(self, places: FloatArray) -> FloatArray:
        level: FloatArray = self.terms[0] + (places - self.middle) @ self.terms[1:]
        return level

    @property
    def slope(self) -> float:
        return float(np.hypot(*self.terms[1:]))

    @property
    def aspect(self) -> float:
        return float(np.degrees(np.arctan2(-self.terms[1], -self.terms[2])) % 360.0)


def _rms(values: FloatArray) -> float:
    known = values[np.isfinite(values)]
    return float(np.sqrt(np.mean(known**2))) if len(known) else float("nan")
