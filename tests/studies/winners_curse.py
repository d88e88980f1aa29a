"""What the best spot of a drawn surface claims, what it truly costs, and what the spot of least expected cost costs.

Yards whose truth is known on a fine grid are surveyed, the spot is searched as a plan does, and the spots are then
worked out on the truth, each at the level that the true ground asks for. The true best is searched on the truth.
``python tests/studies/winners_curse.py`` runs 200 yards and prints the tables of ``docs/accuracy.md``; with a number it
runs so many.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass, replace

import numpy as np
from scipy import fft

from spadework.confidence.luck import weigh_luck
from spadework.ground import raster_ground, triangulate_shots
from spadework.ground.process import fit_process
from spadework.pad import Pad
from spadework.placement import GOALS, Limits, find_placement
from spadework.readings import FloatArray, RasterReading
from spadework.shots import Shots

KEEP = 0.9
STEP = 0.25
PAD = Pad.rectangle(5.5, 3.7)
LENGTHS, RELIEFS, COUNTS, INSTRUMENTS = (3.0, 6.0), (0.08, 0.2), (50, 100, 200), (0.003, 0.015)


@dataclass(frozen=True)
class Case:
    """One yard: what was claimed, expected, true, and promised."""

    count: int
    relief: float
    best: float
    claimed: float
    drawn: float
    picked: float
    expected_drawn: float
    expected_picked: float
    low: float
    high: float
    regret: float
    regret_high: float
    differs: bool


def case(seed: int, step: float = STEP, *, search_truth: bool = True) -> Case:
    """Survey one yard of 24 m by 18 m, its truth known on a grid, and compare; the true best only if it is searched."""
    columns, rows = round(24 / step), round(18 / step)
    draw = np.random.default_rng([8, seed])
    length, relief = float(draw.choice(LENGTHS)), float(draw.choice(RELIEFS))
    count, instrument = int(draw.choice(COUNTS)), float(draw.choice(INSTRUMENTS))
    true = _field(draw, rows, columns, length / step) * relief
    east, north = np.meshgrid(step * np.arange(columns), step * np.arange(rows))
    true = true + 50 + draw.uniform(-0.05, 0.05) * east + draw.uniform(-0.05, 0.05) * north
    truth = raster_ground(RasterReading(east, north, true))
    low, high = np.array([0.0, 0.0]), np.array([east.max(), north.max()])
    corners = np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * high
    places = np.vstack([corners, draw.uniform(low, high, (count - 4, 2))])
    level = truth.level_at(places) + instrument * draw.standard_normal(count)
    names = tuple(f"P{row}" for row in range(count))
    shots = Shots(names, *places.T, level, ("",) * count, np.arange(count), ("",) * count, np.full(count, instrument))
    ground = triangulate_shots(shots, accept_outliers=shots.point)
    limits, goal = Limits(boundary=(corners,)), GOALS["digging"]
    search = find_placement(ground, PAD, limits, goal, KEEP)
    assert search.objective is not None
    luck = weigh_luck(fit_process(shots), search.objective, ground.outline(), search.best, search.alternatives)
    assert luck is not None
    on_truth = replace(search.objective, ground=truth)
    spots = [luck.drawn.spot.placement, luck.pick.spot.placement]
    values = on_truth.values(np.array([[at.east, at.north, at.bearing] for at in spots]))
    best = min(values.tolist())
    if search_truth:
        best = min(best, find_placement(truth, PAD, limits, goal, KEEP).best.value)
    drawn, pick = luck.drawn, luck.pick
    return Case(
        count, relief, best, search.best.value, values[0], values[1], drawn.expected, pick.expected,
        drawn.low, drawn.high, drawn.regret, drawn.regret_high, luck.differs,
    )  # fmt: skip


def _field(draw: np.random.Generator, rows: int, columns: int, length: float) -> FloatArray:
    """A Matérn field of order 3/2, its length in steps, on a torus four times as large, from its spectrum."""
    long, wide = 4 * rows, 4 * columns
    up, across = (np.minimum(np.arange(n), n - np.arange(n)) for n in (long, wide))
    r = np.sqrt(3) * np.hypot(up[:, None], across[None]) / length
    size = np.sqrt(np.maximum(fft.fft2((1 + r) * np.exp(-r)).real, 0) / (long * wide))
    noise = draw.standard_normal((2, long, wide))
    field: FloatArray = fft.fft2(size * (noise[0] + 1j * noise[1])).real[:rows, :columns]
    return field


def table(cases: list[Case]) -> str:
    """What was claimed, true and promised, on average."""

    def mean(name: str, some: list[Case]) -> float:
        return float(np.mean([getattr(one, name) for one in some]))

    lines = [
        "yards  number | true best | drawn: claims  expected  true | pick: expected  true | regret: promised  true"
    ]
    groups = [("all", cases), *((f"{count} shots", [c for c in cases if c.count == count]) for count in COUNTS)]
    groups += [(f"relief {relief} m", [c for c in cases if c.relief == relief]) for relief in RELIEFS]
    for name, some in groups:
        if some:
            numbers = [
                mean(n, some) for n in ("best", "claimed", "expected_drawn", "drawn", "expected_picked", "picked")
            ]
            true_regret = float(np.mean([c.drawn - c.best for c in some]))
            words = "  ".join(f"{n:.3f}" for n in (*numbers, mean("regret", some), true_regret))
            lines.append(f"{name:14s} {len(some):4d} | {words}")
    held = np.mean([c.low <= c.drawn <= c.high for c in cases])
    within = np.mean([c.drawn - c.best <= c.regret_high for c in cases])
    other = [c for c in cases if c.differs]
    lines.append(f"95 % intervals hold {100 * held:.1f} %; true regret below its 95 % bound {100 * within:.1f} %")
    if other:
        gain = np.array([c.drawn - c.picked for c in other])
        cheaper, error = 100 * np.mean(gain > 0), gain.std() / np.sqrt(len(gain))
        promised = np.mean([c.expected_drawn - c.expected_picked for c in other])
        lines.append(f"another spot picked in {len(other)}: truly cheaper in {cheaper:.0f} %, on average by")
        lines.append(f"{gain.mean():.3f} m³ ± {error:.3f} (promised {promised:.3f})")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table([case(seed) for seed in range(int(sys.argv[1]) if len(sys.argv) > 1 else 200)]))
