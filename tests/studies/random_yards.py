"""Random yards whose truth is known: what the studies of how sure a plan is are run on.

The yards are of our own making. Their ground is a plane with a Matérn field of an order, height and length that the
engine is not told. Odd yards are of orders that the engine does not know, or of two fields, one coarse and one fine.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

import numpy as np
from scipy.special import gamma, kv

from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.ground import Ground, triangulate_shots
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray
from spadework.shots import Shots

KEEP = 0.9
SPOTS = 400
ODD_SEEDS = 1_000_000
"""Seeds from here on make odd yards."""
TWO_SCALES = -1.0
FINE_SHARE, FINE_LENGTH = 0.3, 0.25
"""Height and length of the fine field of an odd yard, as shares of those of the coarse one."""


def matern(distance: FloatArray, sd: float, length: float, order: float) -> FloatArray:
    """The Matérn covariance by its definition with a Bessel function, not by the closed forms of the engine."""
    if order == TWO_SCALES:
        fine = matern(distance, FINE_SHARE * sd, FINE_LENGTH * length, 1.5)
        return matern(distance, sd, length, 1.5) + fine
    r = np.maximum(np.sqrt(2 * order) * distance / length, 1e-12)
    return sd**2 * 2 ** (1 - order) / gamma(order) * r**order * kv(order, r)


@dataclass
class Truth:
    """Ground that is drawn only where it is asked for, always in keeping with what was drawn before."""

    draw: np.random.Generator
    sd: float
    length: float
    order: float
    fall: FloatArray
    places: FloatArray = field(default_factory=lambda: np.zeros((0, 2)))
    relief: FloatArray = field(default_factory=lambda: np.zeros(0))

    def at(self, points: FloatArray) -> FloatArray:
        """True level at points."""
        between = matern(_apart(self.places, points), self.sd, self.length, self.order)
        spread = matern(_apart(points, points), self.sd, self.length, self.order)
        mean = np.zeros(len(points))
        if len(self.places):
            own = matern(_apart(self.places, self.places), self.sd, self.length, self.order)
            own[np.diag_indices_from(own)] += 1e-10
            weight = np.linalg.solve(own, between)
            mean, spread = self.relief @ weight, spread - between.T @ weight
        values, vectors = np.linalg.eigh((spread + spread.T) / 2)
        relief = mean + vectors @ (np.sqrt(np.maximum(values, 0.0)) * self.draw.standard_normal(len(points)))
        self.places, self.relief = np.vstack([self.places, points]), np.concatenate([self.relief, relief])
        return 100.0 + points @ self.fall + relief


def _apart(one: FloatArray, other: FloatArray) -> FloatArray:
    return np.hypot(one[:, 0, None] - other[None, :, 0], one[:, 1, None] - other[None, :, 1])


@dataclass
class Yard:
    """A yard as it was surveyed, the pad that a plan would put there, and the truth."""

    truth: Truth
    instrument: float
    shots: Shots
    ground: Ground
    pad: Pad
    placement: Placement

    def read(self, points: FloatArray) -> FloatArray:
        """Level read at points: the truth, and the instrument's error."""
        return self.truth.at(points) + self.instrument * self.truth.draw.standard_normal(len(points))


def shots_of(places: FloatArray, level: FloatArray, sd: float) -> Shots:
    """A table of shots with one standard deviation."""
    n = len(level)
    names = tuple(f"P{i + 1}" for i in range(n))
    return Shots(names, places[:, 0], places[:, 1], level, ("",) * n, np.arange(n), ("",) * n, np.full(n, sd))


def random_yard(seed: int) -> Yard:
    """A yard of 12 to 30 m by 12 to 30 m with 20 to 150 shots, and the pad where least is dug on the drawn surface."""
    draw = np.random.default_rng([20_261_125, seed])
    size = draw.uniform(12.0, 30.0, 2)
    count = int(draw.integers(20, 151))
    truth = Truth(
        draw,
        sd=draw.uniform(0.03, 0.25),
        length=draw.uniform(2.0, 10.0),
        order=float(draw.choice([0.5, 1.5, 2.5] if seed < ODD_SEEDS else [0.75, 1.0, TWO_SCALES])),
        fall=draw.uniform(-0.08, 0.08, 2),
    )
    instrument = float(draw.choice([0.003, 0.005, 0.015]))
    if draw.uniform() < 0.5:
        places = draw.uniform(0.0, size, (count, 2))
    else:  # paced out: a grid, each shot up to a quarter of the spacing off
        step = math.sqrt(size[0] * size[1] / count)
        columns, rows = (np.arange(step / 2, side, step) for side in size)
        grid = np.column_stack([axis.ravel() for axis in np.meshgrid(columns, rows)])
        places = grid + draw.uniform(-step / 4, step / 4, grid.shape)
    level = truth.at(places) + instrument * draw.standard_normal(len(places))
    shots = shots_of(places, level, instrument)
    ground = triangulate_shots(shots, accept_outliers=shots.point)
    pad = Pad.rectangle(float(draw.uniform(2.5, 5.0)), float(draw.uniform(2.0, 4.0)), strip=0.05)
    return Yard(truth, instrument, shots, ground, pad, _least_dug(draw, ground, pad, size))


def _least_dug(draw: np.random.Generator, ground: Ground, pad: Pad, size: FloatArray) -> Placement:
    """Of many random spots, the one where the drawn surface needs least digging at the balanced level."""
    poses = np.column_stack([draw.uniform(0.0, size, (SPOTS, 2)), draw.uniform(0.0, 180.0, SPOTS)])
    levels = pad_levels_batch(ground, pad, poses, LevelRule("balanced", keep=KEEP))
    best = int(np.argmin(np.where(levels.allowed, levels.cut, np.inf)))
    assert levels.allowed[best]
    return Placement(*poses[best], float(levels.finish[best]))
