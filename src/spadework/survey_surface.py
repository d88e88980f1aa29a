"""A surface that somebody else triangulated, taken with its own triangles."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spadework.errors import GroundError
from spadework.ground import Ground
from spadework.ground.surface import local_origin
from spadework.survey_levels import SurveyPart

__all__ = ["given_surface"]


def given_surface(parts: Sequence[SurveyPart]) -> Ground | None:
    """Return the surface of the only file that gives one; None where shots with levels stand beside it, or none is.

    Parameters
    ----------
    parts : sequence of SurveyPart
        Placed.

    Raises
    ------
    GroundError
        If its triangles fold over one another.
    """
    found = [part for part in parts if part.triangles is not None]
    levelled = [part for part in parts if part.shots is not None and bool(np.isfinite(part.shots.level).any())]
    if len(found) != 1 or levelled != found:
        return None
    part = found[0]
    shots, triangles = part.shots, part.triangles
    if shots is None or triangles is None:
        return None
    origin = local_origin(shots.east, shots.north)
    east, north = shots.east - origin[0], shots.north - origin[1]
    a, b, c = triangles.T
    double = (east[b] - east[a]) * (north[c] - north[a]) - (east[c] - east[a]) * (north[b] - north[a])
    turned = np.where((double < 0)[:, None], triangles[:, [0, 2, 1]], triangles)
    kept = turned[np.abs(double) > 1e-9]
    area = float(np.abs(double).sum()) / 2.0
    box = float(np.ptp(east) * np.ptp(north))
    if not len(kept) or area > 1.001 * box:
        what = "have no area" if not len(kept) else "lie over one another"
        raise GroundError(f"{part.file}: the triangles of its surface {what}. Export it again as a single ground.")
    notices = (f"The ground is the surface of {part.file} with its own triangles.",)
    return Ground(origin, east, north, shots.level, kept.astype(np.int32), "given surface", shots.point, notices)
