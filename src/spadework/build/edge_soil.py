"""The soil of the frame: out of its trench, rammed back beside it, and spared where it stands in the fill."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from spadework.build.corners import corner_angles
from spadework.build.courses import Side
from spadework.build.edge import frame_sides, no_frame_because
from spadework.build.lumber import section_named
from spadework.build.options import EdgeOptions
from spadework.build.trench import crossings, positive_integral
from spadework.earthwork import EdgeProfile, EdgeSoil
from spadework.pad import Pad
from spadework.readings import FloatArray
from spadework.units import LengthUnit

__all__ = ["frame_soil", "soil_along"]

STRETCH = 1.0
"""Longest stretch that is taken as one place when its soil is carried away: two steps. [m]"""


def frame_soil(
    pad: Pad, finish: float, profiles: Sequence[EdgeProfile], options: EdgeOptions, unit: LengthUnit
) -> EdgeSoil | None:
    """Return the soil of a pad's timber frame, or nothing where there is none or it is not drawn up.

    Parameters
    ----------
    pad : Pad
    finish : float
        Finish level. [m]
    profiles : sequence of EdgeProfile
        The ground along each side.
    options : EdgeOptions
    unit : LengthUnit
        Of the marks that steps are rounded to.
    """
    if pad.edge.kind != "timber":
        return None
    section = section_named(pad.edge.beam, unit, flat=options.flat)
    if no_frame_because(pad, profiles, finish, section, options):
        return None
    sides = frame_sides(profiles, finish, section, options, unit, corner_angles(pad.outline).tolist())
    formation = finish - pad.build_up.thickness
    return soil_along(pad, sides, formation=formation, breadth=section.breadth, room=options.trench_room)


def soil_along(pad: Pad, sides: Sequence[Side], *, formation: float, breadth: float, room: float) -> EdgeSoil:
    """Return the soil of a frame, stretch by stretch.

    With ``f = min(ground - strip, formation) - U`` the depth of the trench over the frame's foot ``U``, a stretch gives
    ``(b + room) ∫ max(f, 0) ds``; the timber of breadth ``b`` takes ``b ∫ max(f, 0) ds`` of that place, and the rest is
    rammed full again. Above the stripped ground it stands in the fill's place: ``b ∫ max(formation - ground + strip, 0)
    ds``, less what is filled under its foot, ``b ∫ max(min(U, formation) - ground + strip, 0) ds``. All exactly, as the
    ground is straight and the foot level between the stations. At the far end of a side the corner is the next side's.

    Parameters
    ----------
    pad : Pad
        Its outline is the outer face of the timber.
    sides : sequence of Side
        Clockwise.
    formation : float
        Level dug or filled to. [m]
    breadth, room : float
        Of the timber; dug beside it, on the inside. [m]
    """
    along = np.roll(pad.outline, -1, axis=0) - pad.outline
    along /= np.hypot(along[:, 0], along[:, 1])[:, None]
    inward = np.column_stack([-along[:, 1], along[:, 0]])
    names: list[str] = []
    places: list[FloatArray] = []
    rows: list[FloatArray] = []
    for number, side in enumerate(sides):
        middle, numbers = _stretches(side, formation=formation, strip=pad.strip, breadth=breadth, room=room)
        names.extend([side.name] * len(middle))
        places.append(pad.outline[number] + middle[:, None] * along[number] + (breadth + room) / 2 * inward[number])
        rows.append(numbers)
    level, dug, packed, spared = np.concatenate(rows, axis=1)
    return EdgeSoil(tuple(names), np.concatenate(places), level, dug, packed, spared)


def _stretches(
    side: Side, *, formation: float, strip: float, breadth: float, room: float
) -> tuple[FloatArray, FloatArray]:
    """Return the middle of each stretch along a side, and its level, what is dug, packed and spared, shape (4, n)."""
    width = breadth + room
    stop, stand = side.length - side.corner(width), side.length - side.corner(breadth)
    last = max(side.length, stop, stand)
    stripped = side.profile.level - strip
    at = np.concatenate(
        [
            side.stations(),
            crossings(side.profile.distance, stripped - formation),
            np.linspace(0.0, last, max(int(np.ceil(last / STRETCH)), 1) + 1),
            np.clip([stop, stand], 0.0, last),
        ]
    )
    for level in np.unique(side.underside(side.stations())):
        at = np.append(at, crossings(side.profile.distance, stripped - level))
    at = np.unique(at)
    start, end, middle = at[:-1], at[1:], (at[:-1] + at[1:]) / 2
    length, foot = end - start, side.underside(middle)
    first, second = (side.profile.level_at(end_at) - strip for end_at in (start, end))
    base = np.minimum(first, formation), np.minimum(second, formation)
    depth = positive_integral(length, base[0] - foot, base[1] - foot)
    filled = positive_integral(length, formation - first, formation - second)
    below = np.minimum(foot, formation)
    under = positive_integral(length, below - first, below - second)
    dug = np.where(middle < stop, width * depth, 0.0)
    inside = middle < stand
    return middle, np.stack(
        [
            (foot + np.minimum(base[0], base[1])) / 2,
            dug,
            dug - np.where(inside, breadth * depth, 0.0),
            np.where(inside, breadth * (filled - under), 0.0),
        ]
    )
