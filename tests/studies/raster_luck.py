"""What the best spot of a raster claims, what is told to be expected of it, and what it truly costs.

Grounds whose truth is known on a grid of 0.25 m are turned into rasters of 1 m with noise in each cell and a shift; the
spot is searched as a plan does and then worked out on the truth. ``python tests/studies/raster_luck.py 60`` runs 60 of
them; a second number makes the noise alike over so many cells, which the engine does not know.
"""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass, replace

import numpy as np
from winners_curse import KEEP, PAD, STEP, _field

from spadework.confidence.luck import weigh_luck
from spadework.ground import raster_ground
from spadework.ground.raster_doubt import RasterAccuracy
from spadework.ground.raster_sureness import raster_doubt
from spadework.placement import GOALS, Limits, find_placement
from spadework.readings import RasterReading

LENGTHS, RELIEFS, NOISES, SHIFT = (3.0, 6.0, 12.0), (0.08, 0.2), (0.02, 0.06), 0.08


@dataclass(frozen=True)
class Case:
    """One raster: what was claimed, expected, and true. [m³]"""

    noise: float
    claimed: float
    expected: float
    true: float
    low: float
    high: float
    picked: float
    truly_picked: float


def case(seed: int, alike: float = 0.0) -> Case:
    """Make one raster of 30 by 24 cells, its noise alike over so many cells, and compare."""
    draw = np.random.default_rng([9, seed])
    length, relief, noise = (float(draw.choice(some)) for some in (LENGTHS, RELIEFS, NOISES))
    columns, rows = round(30 / STEP), round(24 / STEP)
    east, north = np.meshgrid(STEP * np.arange(columns), STEP * np.arange(rows))
    true = 50 + _field(draw, rows, columns, length / STEP) * relief
    true = true + draw.uniform(-0.05, 0.05) * east + draw.uniform(-0.05, 0.05) * north
    truth = raster_ground(RasterReading(east, north, true))
    east, north = np.meshgrid(np.arange(30.0), np.arange(24.0))
    level = truth.level_at(np.column_stack([east.ravel(), north.ravel()])).reshape(east.shape)
    error = _field(draw, *level.shape, alike) if alike else draw.standard_normal(level.shape)
    level = level + SHIFT * draw.standard_normal() + noise * error
    ground = raster_ground(RasterReading(east, north, level, cell=1.0))
    corners = np.array([[0.0, 0.0], [29.0, 0.0], [29.0, 23.0], [0.0, 23.0]])
    search = find_placement(ground, PAD, Limits(boundary=(corners,)), GOALS["digging"], KEEP)
    assert search.objective is not None
    doubt = raster_doubt(ground, level, 1.0, RasterAccuracy(math.hypot(SHIFT, noise), noise, "as it is said"))
    assert doubt is not None
    luck = weigh_luck(doubt, search.objective, ground.outline(), search.best, search.alternatives)
    assert luck is not None
    places = [one.spot.placement for one in (luck.drawn, luck.pick)]
    values = replace(search.objective, ground=truth).values(
        np.array([[at.east, at.north, at.bearing] for at in places])
    )
    drawn = luck.drawn
    return Case(
        noise, search.best.value, drawn.expected, values[0], drawn.low, drawn.high, luck.pick.expected, values[1]
    )


def table(cases: list[Case]) -> str:
    """What was claimed, expected and true, on average."""
    lines = ["noise  number | drawn: claims  expected  true | 95 % hold | least expected: expected  true"]
    for noise in NOISES:
        some = [one for one in cases if one.noise == noise]
        if some:
            names = ("claimed", "expected", "true", "picked", "truly_picked")
            means = [f"{np.mean([getattr(one, name) for one in some]):.3f}" for name in names]
            held = 100 * np.mean([one.low <= one.true <= one.high for one in some])
            drawn, picked = "  ".join(means[:3]), "  ".join(means[3:])
            lines.append(f"{noise:.2f}   {len(some):6d} | {drawn} | {held:.1f} % | {picked}")
    return "\n".join(lines)


if __name__ == "__main__":
    print(table([case(seed, float((*sys.argv, "0", "0")[2])) for seed in range(int((*sys.argv, "60")[1]))]))
