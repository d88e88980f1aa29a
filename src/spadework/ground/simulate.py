"""Grounds that the shots allow, drawn whole on a grid.

Where the ground is alike over short ways only, a stationary field is drawn by Fourier transform and then moved by what
the kriging of its errors at the shots says. Where it is alike over the whole site no torus is long enough: there what
the shots leave open is drawn exactly on a coarser grid and laid over the expected ground. Both have the mean and the
covariance of the ground given the shots, the doubt of the plane and of the readings in it.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from spadework.ground.covariance import Covariance
from spadework.ground.index import TriangleArray
from spadework.ground.kriging import Kriging
from spadework.ground.process import GroundProcess, square_root
from spadework.ground.process_fit import one_thread
from spadework.readings import FloatArray, IntArray

__all__ = ["Lattice", "draw_at", "simulate"]

APRON = 6.0
"""Length scales after which two places have nothing in common: the ends of the torus that a field is drawn on lie so
far apart, and its covariance is then that of a field to a part in 100,000."""
LARGEST_TORUS = 65_536
"""Points of a torus beyond which the coarse grid is cheaper."""
COARSE = 1000
"""Points of the coarse grid, about."""
TENTH_OF_A_MILLIMETRE = 1e-4


@dataclass(frozen=True)
class Lattice:
    """A square grid of points in site axes.

    Parameters
    ----------
    west, south : float
        Its first point. [m]
    step : float
        Between points. [m]
    columns, rows : int
        Number of points eastwards and northwards, two or more.
    """

    west: float
    south: float
    step: float
    columns: int
    rows: int

    @classmethod
    def over(cls, bounds: tuple[float, float, float, float], step: float) -> Lattice:
        """Return the grid of a step that covers bounds: least east, least north, greatest east, greatest north."""
        west, south, east, north = bounds
        columns, rows = (int(np.ceil(side / step)) + 2 for side in (east - west, north - south))
        return cls(west - step / 2, south - step / 2, step, columns, rows)

    @cached_property
    def points(self) -> FloatArray:
        """Every point, row by row from the south, shape (rows · columns, 2). [m]"""
        east = self.west + self.step * np.arange(self.columns)
        north = self.south + self.step * np.arange(self.rows)
        mesh: FloatArray = np.stack(np.meshgrid(east, north), axis=-1).reshape(-1, 2)
        return mesh

    def between(self, places: FloatArray) -> tuple[TriangleArray, FloatArray]:
        """Return the four points about each place and the share of each, shape (k, 4) each: bilinear."""
        across, up = ((places - [self.west, self.south]) / self.step).T
        column = np.clip(np.floor(across).astype(np.int32), 0, self.columns - 2)
        row = np.clip(np.floor(up).astype(np.int32), 0, self.rows - 2)
        u, v = across - column, up - row
        first = row * self.columns + column
        near = np.column_stack([first, first + 1, first + self.columns, first + self.columns + 1])
        return near.astype(np.int32), np.column_stack([(1 - u) * (1 - v), u * (1 - v), (1 - u) * v, u * v])


def simulate(process: GroundProcess, lattice: Lattice, count: int, *, seed: int = 0) -> FloatArray:
    """Return grounds that the shots allow on a grid that covers the shots, shape (count, rows · columns). [m]

    Sources: C. R. Dietrich and G. N. Newsam, "Fast and exact simulation of stationary Gaussian processes through
    circulant embedding of the covariance matrix", *SIAM Journal on Scientific Computing* 18 (1997); for the tie to the
    shots J.-P. Chilès and P. Delfiner, *Geostatistics* (Wiley, 1999), section 7.3 (from memory). Between points of its
    grid a field is taken as bilinear, which is little off while the grid is finer than the length scale.

    Parameters
    ----------
    process : GroundProcess
        The ground as the shots describe it.
    lattice : Lattice
        The grid.
    count : int
        How many. They are shared out among the covariances of the process by their weights.
    seed : int
        The same seed draws the same grounds.
    """
    draw = np.random.default_rng(seed)
    which = _turns(process, count)
    places = lattice.points - process.origin
    near, share = lattice.between(process.best.places + process.origin)
    levels = np.empty((count, len(places)))
    with one_thread(len(process)):
        for number, part in enumerate(process.parts):
            rows = np.flatnonzero(which == number)
            if len(rows) == 0:
                continue
            torus = _torus(part.covariance, lattice)
            if torus[0] * torus[1] > LARGEST_TORUS:
                levels[rows] = _coarse(part, lattice, process.origin, len(rows), draw)
            else:
                free = _stationary(part.covariance, lattice, torus, len(rows), draw)
                levels[rows] = free + _tie(part, free, near, share, places, draw)
    return levels


def draw_at(process: GroundProcess, points: FloatArray, count: int, *, seed: int = 0) -> FloatArray:
    """Return grounds that the shots allow at some points, drawn jointly without a grid, shape (count, k). [m]

    Parameters
    ----------
    process : GroundProcess
        The ground as the shots describe it.
    points : array, shape (k, 2)
        Site east and north: some hundreds. [m]
    count, seed : int
        As for `simulate`.
    """
    normal = np.random.default_rng(seed).standard_normal((count, len(points)))
    which, places = _turns(process, count), points - process.origin
    levels = np.empty((count, len(points)))
    with one_thread(len(process)):
        for number, part in enumerate(process.parts):
            rows = np.flatnonzero(which == number)
            if len(rows):
                levels[rows] = part.mean(places) + normal[rows] @ _root(part.between(places, places)).T
    return levels


def _turns(process: GroundProcess, count: int) -> IntArray:
    """Return which of the covariances each ground has: they are shared out by their weights, shape (count,)."""
    turn = (np.arange(count) + 0.5) / count
    which: IntArray = np.searchsorted(np.cumsum(process.weight)[:-1], turn, side="right")
    return which


def _tie(  # noqa: PLR0917 -- a field, where the shots are in it, and where it is asked for
    part: Kriging,
    free: FloatArray,
    near: TriangleArray,
    share: FloatArray,
    places: FloatArray,
    draw: np.random.Generator,
) -> FloatArray:
    """Return by how much fields move when they are tied to the shots, shape (m, k). [m]"""
    sd = np.sqrt(part.noise + part.covariance.roughness**2)
    read = (free[:, near] * share).sum(axis=2) + sd * draw.standard_normal((len(free), len(part)))
    return part.means_of(part.level - read, places)


def _torus(covariance: Covariance, lattice: Lattice) -> tuple[int, int]:
    """Return the size of the torus for a field: points northwards and eastwards."""
    from scipy import fft  # noqa: PLC0415 -- only here

    apron = APRON * covariance.length / lattice.step
    long, wide = (fft.next_fast_len(int(max(n, apron) + apron)) for n in (lattice.rows, lattice.columns))
    return long, wide


def _stationary(
    covariance: Covariance, lattice: Lattice, torus: tuple[int, int], count: int, draw: np.random.Generator
) -> FloatArray:
    """Return fields of mean zero with a covariance, shape (count, rows · columns): two from each transform. [m]"""
    from scipy import fft  # noqa: PLC0415 -- only here

    long, wide = torus
    up, across = (np.minimum(np.arange(n), n - np.arange(n)) * lattice.step for n in (long, wide))
    spectrum = fft.fft2(covariance.of(np.hypot(up[:, None], across[None]))).real
    size = np.sqrt(np.maximum(spectrum, 0.0) / (long * wide))
    fields = np.empty((count + count % 2, lattice.rows * lattice.columns))
    for row in range(0, count, 2):
        noise = draw.standard_normal((2, long, wide))
        field = fft.fft2(size * (noise[0] + 1j * noise[1]))[: lattice.rows, : lattice.columns].ravel()
        fields[row], fields[row + 1] = field.real, field.imag
    return fields[:count]


def _coarse(part: Kriging, lattice: Lattice, origin: FloatArray, count: int, draw: np.random.Generator) -> FloatArray:
    """Return grounds from what the shots leave open on a coarser grid, shape (count, rows · columns). [m]"""
    points = lattice.points
    sides = np.ptp(points, axis=0)
    step = max(lattice.step, float(np.sqrt(sides[0] * sides[1] / COARSE)))
    coarse = Lattice.over((*points.min(axis=0), *points.max(axis=0)), step)
    root = _root(part.between(coarse.points - origin, coarse.points - origin))
    open_ = draw.standard_normal((count, len(root))) @ root.T
    near, share = coarse.between(points)
    laid: FloatArray = np.einsum("mkf,kf->mk", open_[:, near], share) + part.mean(points - origin)
    return laid


def _root(covariance: FloatArray) -> FloatArray:
    """Return a root of a covariance, a tenth of a millimetre of doubt added so that it has a Cholesky factor."""
    from scipy.linalg.lapack import dpotrf  # noqa: PLC0415 -- only here

    matrix = covariance + TENTH_OF_A_MILLIMETRE**2 * np.eye(len(covariance))
    lower, failed = dpotrf(matrix, lower=1, clean=1, overwrite_a=1)
    root: FloatArray = square_root(covariance) if failed else lower
    return root
