"""Grounds of known shape for tests."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
from scipy.spatial import cKDTree

from spadework.ground import Ground, triangulate_shots
from spadework.readings import FloatArray
from spadework.shots import Shots


def shots_of(
    east: Sequence[float] | FloatArray,
    north: Sequence[float] | FloatArray,
    level: Sequence[float] | FloatArray,
    names: Sequence[str] = (),
    level_sd: float | None = None,
) -> Shots:
    """Shots S1, S2, ... as if read from lines 2, 3, ... of lawn.csv."""
    count = len(east)
    return Shots(
        point=tuple(names) or tuple(f"S{i + 1}" for i in range(count)),
        east=np.array(east, dtype=np.float64),
        north=np.array(north, dtype=np.float64),
        level=np.array(level, dtype=np.float64),
        note=("",) * count,
        line=np.arange(count) + 2,
        file=("lawn.csv",) * count,
        level_sd=None if level_sd is None else np.full(count, level_sd),
    )


def scattered(
    count: int,
    level: Callable[[FloatArray, FloatArray], FloatArray],
    *,
    seed: int = 7,
    wide: float = 30.0,
    long: float = 40.0,
    shift: tuple[float, float] = (0.0, 0.0),
) -> Ground:
    """Shots at random places of a yard and at its corners, with levels by a formula of the unshifted place.

    No two are nearer than 20 mm, which would be one place.
    """
    random = np.random.default_rng(seed)
    corners = [[0, 0], [wide, 0], [wide, long], [0, long]]
    place = np.concatenate([corners, random.uniform(0, [wide, long], (count - 4, 2))])
    while len(pairs := cKDTree(place).query_pairs(0.02, output_type="ndarray")):
        place[pairs.max(axis=1)] = random.uniform(0, [wide, long], (len(pairs), 2))
    east, north = place.T
    return triangulate_shots(shots_of(east + shift[0], north + shift[1], level(east, north)))


def rough(seed: int = 7, sd: float = 0.15) -> Callable[[FloatArray, FloatArray], FloatArray]:
    """A gentle slope with noise on every shot, so that no two triangles are in one plane."""
    random = np.random.default_rng(seed + 1000)
    return lambda east, north: 52.0 + 0.04 * east - 0.03 * north + random.normal(0, sd, len(east))


def lattice(level: Callable[[FloatArray, FloatArray], FloatArray], half: float, cell: float) -> Ground:
    """A square of shots, ``cell`` apart and centred on the origin, halved into triangles."""
    count = round(half / cell)
    place = np.arange(-count, count + 1) * cell
    east, north = (values.ravel() for values in np.meshgrid(place, place))
    side = 2 * count + 1
    first = (np.arange(side - 1)[:, None] * side + np.arange(side - 1)).ravel()
    triangles = np.concatenate(
        [np.stack([first, first + 1, first + side + 1], 1), np.stack([first, first + side + 1, first + side], 1)]
    )
    return Ground(np.zeros(2), east, north, level(east, north), triangles.astype(np.int32), "lattice")
