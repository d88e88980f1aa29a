"""Open elevation data thinned to a few shots, rebuilt from them, and compared with the rest that was held back.

Run it from the top folder; the figures of docs/accuracy.md are its output:

    python tests/studies/open_data.py
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from pathlib import Path

import laspy
import numpy as np
from matplotlib import cbook

sys.path.insert(0, str(Path(__file__).parent))
sys.path.insert(0, str(Path(__file__).parents[1]))

from random_yards import shots_of

from clouds import YARD, tile
from spadework.ground import triangulate_shots
from spadework.ground.cross_validation import compare_surfaces
from spadework.ground.process import fit_process
from spadework.readings import FloatArray

US_SURVEY_FOOT = 1200 / 3937
GROUND_CLASS = 2
DEGREE = 111_320.0
"""Metres to a degree of latitude, near enough for a comparison of a surface with itself."""


@dataclass
class Rebuilt:
    """How a thinned ground compares with what was held back."""

    name: str
    shots: int
    held_back: int
    relief: float
    triangles: float
    smooth: float
    promised: float
    coverage: float
    left_out: tuple[float, float]
    prefers: str

    def __str__(self) -> str:
        """One line of the report."""
        return (
            f"{self.name}: {self.shots} shots, {self.held_back} held back, relief {self.relief:.3f} m (sd)\n"
            f"  error of triangles {self.triangles:.3f} m, of the smooth ground {self.smooth:.3f} m; "
            f"promised {self.promised:.3f} m\n"
            f"  shots left out in turn: triangles {self.left_out[0]:.3f} m, smooth {self.left_out[1]:.3f} m; "
            f"it prefers {self.prefers}\n"
            f"  95 % intervals hold {100 * self.coverage:.1f} % of what was held back"
        )


def rebuild(name: str, places: FloatArray, level: FloatArray, rows: FloatArray, sd: float) -> Rebuilt:
    """Survey only some of the points, and ask for the level of the others inside the outline of these."""
    shots = shots_of(places[rows], level[rows], sd)
    ground, process = triangulate_shots(shots, accept_outliers=shots.point), fit_process(shots)
    others = np.setdiff1d(np.arange(len(level)), rows)
    straight = ground.level_at(places[others])
    inside = np.isfinite(straight)
    others, straight = others[inside], straight[inside]
    mean, doubt = process.mean_sd(places[others])
    # What is held back was measured too: its own error belongs to the interval.
    doubt = np.hypot(doubt, math.hypot(sd, process.covariance.roughness))
    error = level[others] - mean
    compared = compare_surfaces(ground, process)
    return Rebuilt(
        name=name,
        shots=len(rows),
        held_back=len(others),
        relief=float(level.std()),
        triangles=rms(level[others] - straight),
        smooth=rms(error),
        promised=rms(doubt),
        coverage=float((np.abs(error) <= 1.96 * doubt).mean()),
        left_out=(compared.triangles, compared.smooth),
        prefers=compared.prefers,
    )


def elevation_model(count: int = 300, seed: int = 1) -> Rebuilt:
    """A window of 7.5 km by 7.4 km of the elevation model that ships with matplotlib, levels in whole metres."""
    data = np.load(cbook.get_sample_data("jacksboro_fault_dem.npz", asfileobj=False))
    window = data["elevation"][100:180, 150:250].astype(np.float64)
    latitude = math.radians(float(data["ymin"] + data["ymax"]) / 2)
    row, column = (axis.ravel() for axis in np.indices(window.shape))
    places = np.column_stack([column * data["dx"] * DEGREE * math.cos(latitude), -row * data["dy"] * DEGREE])
    rows = np.random.default_rng(seed).choice(window.size, count, replace=False)
    return rebuild("elevation model", places, window.ravel(), rows, 1 / math.sqrt(12))


def yard_tile(count: int = 50, seed: int = 1) -> Rebuilt:
    """The ground points of the yard among laspy's test files, in US survey feet; each sure to 20 mm."""
    cloud = laspy.read(tile(YARD))
    kept = np.asarray(cloud.classification) == GROUND_CLASS
    east, north, level = (np.asarray(axis)[kept] * US_SURVEY_FOOT for axis in (cloud.x, cloud.y, cloud.z))
    draw = np.random.default_rng(seed)
    places = np.column_stack([east - east.min(), north - north.min()])
    return rebuild("yard tile", places, level, _apart(places, draw, count), 0.02)


def _apart(places: FloatArray, draw: np.random.Generator, count: int) -> FloatArray:
    """Rows of points as a person would take them: spread out, none next to another."""
    order = draw.permutation(len(places))[: 40 * count]
    chosen = [int(order[0])]
    distance = np.hypot(*(places[order] - places[order[0]]).T)
    while len(chosen) < count:
        best = int(np.argmax(distance))
        chosen.append(int(order[best]))
        distance = np.minimum(distance, np.hypot(*(places[order] - places[order[best]]).T))
    return np.array(chosen)


def rms(values: FloatArray) -> float:
    """Root mean square."""
    return float(np.sqrt(np.mean(np.square(values))))


def main() -> None:
    """Print the comparison for several draws of shots."""
    for seed in (1, 2, 3):
        print(elevation_model(seed=seed))
        print(yard_tile(seed=seed))


if __name__ == "__main__":
    main()
