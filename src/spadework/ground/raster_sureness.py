"""How sure a raster's ground is: by what is known of it, and by how far the shots that it is tied to were off."""

from __future__ import annotations

import math

import numpy as np

from spadework.ground.process import LEVEL_SD
from spadework.ground.raster_doubt import NOISE_SHARE, RasterAccuracy, RasterDoubt, within_cells
from spadework.ground.surface import Ground
from spadework.ground.tied_raster import TiedRaster
from spadework.readings import FloatArray

__all__ = ["raster_doubt"]

NORMAL = 1.959964


def raster_doubt(
    ground: Ground, level: FloatArray, cell: float, accuracy: RasterAccuracy | None, tied: TiedRaster | None = None
) -> RasterDoubt | None:
    """Return the ground of a raster with how sure it is; None where nothing is known of that.

    A raster that stands alone is as sure as it is said to be. One that was bent to shots is as sure as the process of
    its differences says, with the noise of each cell that is known besides. One that was shifted or tilted is as sure
    as its misses at the shots say, widened by Student's t for their few degrees of freedom, and never surer than what
    is said of its cells: the terms of the plane, and a rest which is taken to be the same all over a pad, for so few
    shots do not say how fast it changes.

    Parameters
    ----------
    ground : Ground
        Tied, where it is.
    level : array, shape (rows, cols)
        Levels of its cells. [m]
    cell : float
        Side of a cell. [m]
    accuracy : RasterAccuracy, optional
        What is known of the raster by itself.
    tied : TiedRaster, optional
        How it was tied to shots.
    """
    noise = 0.0 if accuracy is None else accuracy.noise
    rough = within_cells(level, noise)
    if tied is None:
        if accuracy is None:
            return None
        return RasterDoubt(ground, cell, noise, rough, shift=accuracy.shift, said=accuracy.sd, source=accuracy.source)
    count = len(tied.names)
    source = f"by the misses of the {count} shots that it is tied to"
    if tied.process is not None:
        return RasterDoubt(ground, cell, noise, rough, rest=tied.process, said=tied.left_out_rms, source=source)
    least = math.hypot(noise, LEVEL_SD)
    if tied.free < 1:
        if accuracy is None:
            return None
        miss, source = least, f"{accuracy.source}; one shot says how high it lies"
    else:
        from scipy.stats import t as student  # noqa: PLC0415 -- 0.5 s of import that only a tied raster needs

        usual = math.sqrt(float(np.sum(tied.after**2)) / tied.free)
        miss = max(usual * float(student.ppf(0.975, tied.free)) / NORMAL, least)
    if accuracy is None:
        noise = NOISE_SHARE * miss
        rough = within_cells(level, noise)
    return RasterDoubt(
        ground,
        cell,
        noise,
        rough,
        shift=math.sqrt(max(miss**2 - noise**2, 0.0)) if tied.free >= 1 else 0.0,
        plane=miss**2 * tied.shares,
        middle=tied.middle,
        said=miss,
        source=source,
    )
