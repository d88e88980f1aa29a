"""The compiled mean slope of the ground under many poses: plain arrays, no checks.

The kept machine code holds a copy of what it calls in `kernel`: empty ``__pycache__`` after a change there.
"""

from __future__ import annotations

import math

import numpy as np

from spadework.earthwork._compile import compiled
from spadework.earthwork.arrays import GroundArrays, PadArrays, Room
from spadework.earthwork.kernel import _bounds, _clip, bucket_of
from spadework.readings import FloatArray

__all__ = ["mean_gradients"]


@compiled
def mean_gradients(
    ground: GroundArrays, pad: PadArrays, poses: FloatArray, gradient: FloatArray, result: FloatArray
) -> None:
    """Write the mean rise eastwards and northwards of the ground under each pose, and the area that it covers.

    Parameters
    ----------
    poses : array, shape (k, 4)
        As in `kernel`.
    gradient : array, shape (t, 2)
        Rise eastwards and northwards of each triangle.
    result : array, shape (k, 3)
        Written.
    """
    width = 3
    for p in range(pad.part.shape[0] - 1):
        width = max(width, 3 + pad.part[p + 1] - pad.part[p])
    room = Room(np.empty((2, width, 4)), np.zeros((2, width), dtype=np.int64))
    for i in range(poses.shape[0]):
        pose = poses[i]
        area, rise_east, rise_north = 0.0, 0.0, 0.0
        for p in range(pad.part.shape[0] - 1):
            first, last = pad.part[p], pad.part[p + 1]
            west, south, rim_east, rim_north = _bounds(pad, first, last, pose)
            column_from = bucket_of(west, ground.first_east, ground.per_metre, ground.columns)
            column_to = bucket_of(rim_east, ground.first_east, ground.per_metre, ground.columns)
            row_from = bucket_of(south, ground.first_north, ground.per_metre, ground.rows)
            row_to = bucket_of(rim_north, ground.first_north, ground.per_metre, ground.rows)
            for row in range(row_from, row_to + 1):
                for column in range(column_from, column_to + 1):
                    bucket = row * ground.columns + column
                    for place in range(ground.start[bucket], ground.start[bucket + 1]):
                        # Counted once: in the first bucket that the triangle and the pad share.
                        entry = ground.entry[place]
                        if (entry & 1 == 0 and column != column_from) or (entry & 2 == 0 and row != row_from):
                            continue
                        t = entry >> 2
                        held, size = _clip(ground, pad, first, last, pose, t, room)
                        polygon = room.polygon
                        for j in range(1, size - 1):
                            part = 0.5 * abs(
                                (polygon[held, j + 1, 0] - polygon[held, 0, 0])
                                * (polygon[held, j, 1] - polygon[held, 0, 1])
                                - (polygon[held, j, 0] - polygon[held, 0, 0])
                                * (polygon[held, j + 1, 1] - polygon[held, 0, 1])
                            )
                            area += part
                            rise_east += part * gradient[t, 0]
                            rise_north += part * gradient[t, 1]
        result[i, 2] = area
        if area > 0.0:
            result[i, 0], result[i, 1] = rise_east / area, rise_north / area
        else:
            result[i, 0], result[i, 1] = math.nan, math.nan
