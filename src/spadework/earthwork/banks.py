"""Banks: cut and fill slopes that run out from the pad's edge to where they meet the ground, with mitred corners.

Outside the pad the surface dug or filled to rises or falls with the distance ``d`` from the nearest side's line:
``h + s_c d`` where the ground stands above it, ``h - s_f d`` where the ground lies below. Corners are mitred: of the
lines of the sides the farthest counts, so that beyond each side lies a wedge in which the bank is one plane. Taking
``s_c d`` off the ground, or adding ``s_f d`` to it, turns each wedge into a pad with vertical sides on plane triangles,
for which the exact kernel serves unchanged.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from spadework.earthwork.pieces import Pieces, pad_pieces
from spadework.earthwork.volumes import cut_fill
from spadework.errors import PlacementError
from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.readings import FloatArray

__all__ = ["BankedPad", "balanced_level", "banked_pad", "wedge_grounds", "wedges"]

LEAST_REACH = 0.5
ROOM = 1e-9


@dataclass(frozen=True)
class BankedPad:
    """The ground under a pad and under its banks, ready to be compared with a level.

    Parameters
    ----------
    pad : Pad
        The pad.
    inside : Pieces
        Ground under the pad.
    cut : Pieces
        Ground in all wedges, less ``s_c d``: above a level it is cut by the banks.
    fill : Pieces
        Ground in all wedges, plus ``s_f d``: below a level it is filled by the banks.
    reach : float
        How far out the wedges go. [m]
    """

    pad: Pad
    inside: Pieces
    cut: Pieces
    fill: Pieces
    reach: float

    def volumes(self, formation: float) -> tuple[float, float, float, float]:
        """Return cut and fill of the pad, and cut and fill of its banks. [m³]

        Parameters
        ----------
        formation : float
            Level dug or filled to at the pad's edge. [m]
        """
        strip = self.pad.strip
        cut, fill = cut_fill(self.inside, formation, strip)
        bank_cut = float(cut_fill(self.cut, formation, strip)[0][0])
        bank_fill = float(cut_fill(self.fill, formation, strip)[1][0])
        return float(cut[0]), float(fill[0]), bank_cut, bank_fill


def wedges(pad: Pad, reach: float) -> list[tuple[FloatArray, FloatArray, float]]:
    """Return the wedge beyond each side: its outline, and the line ``d = n · p - c`` of the side, in the pad's frame.

    Parameters
    ----------
    pad : Pad
        A pad with a convex outline.
    reach : float
        How far out. [m]

    Returns
    -------
    list of (array of shape (4, 2), array of shape (2,), float)
        Outline clockwise from above like the pad's own, outward normal, and offset. [m]

    Raises
    ------
    PlacementError
        If the outline turns inward at a corner: its mitred banks would run into one another.
    """
    corners = pad.outline
    along = np.roll(corners, -1, axis=0) - corners
    along = along / np.hypot(along[:, 0], along[:, 1])[:, None]
    # (u, v) is a frame with v to the right of u, and the outline runs clockwise from above: outward is to the left.
    normal = np.column_stack([along[:, 1], -along[:, 0]])
    before = np.roll(normal, 1, axis=0)
    turn = before[:, 0] * normal[:, 1] - before[:, 1] * normal[:, 0]
    if not (turn > 1e-12).all():
        raise PlacementError(
            "The outline of the pad turns inward at a corner, and its banks would run into one another there. "
            'Give it a convex outline, or a retained edge such as edge = { kind = "timber" }.'
        )
    mitre = (before + normal) / (1.0 + (before * normal).sum(axis=1))[:, None]
    outer = corners + reach * mitre
    found = []
    for i in range(len(corners)):
        j = (i + 1) % len(corners)
        outline = np.array([corners[i], outer[i], outer[j], corners[j]])
        found.append((outline, normal[i], float(normal[i] @ corners[i])))
    return found


def banked_pad(ground: Ground, pad: Pad, placement: Placement, *, reach: float | None = None) -> BankedPad:
    """Cut out the ground under a pad and its banks.

    Parameters
    ----------
    ground : Ground
        The surface.
    pad : Pad
        A pad whose edge is a bank, with a convex outline.
    placement : Placement
        Position and bearing; the finish level does not matter.
    reach : float, optional
        How far out; as far as the highest and lowest ground could be met where not given. [m]

    Raises
    ------
    PlacementError
        If the edge has no slopes, or the outline turns inward.
    """
    slopes = pad.edge.cut_slope, pad.edge.fill_slope
    if not all(0 < slope < math.inf for slope in slopes):
        raise PlacementError(
            f"The edge is a bank with slopes of {slopes[0]:g} in cut and {slopes[1]:g} in fill: give both, such as "
            'edge = { kind = "bank", cut = "1:1.5", fill = "1:2" }.'
        )
    relief = float(ground.level.max() - ground.level.min()) + pad.strip
    far = max(relief / min(slopes), LEAST_REACH) if reach is None else reach
    pose = np.array([[placement.east, placement.north, placement.bearing]])
    cut, fill = [], []
    for outline, lowered, raised in wedge_grounds(ground, pad, placement, far):
        wedge = Pad(outline)
        cut.append(pad_pieces(lowered, wedge, pose))
        fill.append(pad_pieces(raised, wedge, pose))
    inside = pad_pieces(ground, pad, pose)
    return BankedPad(pad, inside, _together(cut, inside.datum), _together(fill, inside.datum), far)


def wedge_grounds(
    ground: Ground, pad: Pad, placement: Placement, reach: float
) -> Iterator[tuple[FloatArray, Ground, Ground]]:
    """Yield the wedge beyond each side with the ground less ``s_c d`` and the ground plus ``s_f d``.

    Parameters
    ----------
    ground, pad, placement
        As for `banked_pad`.
    reach : float
        How far out. [m]

    Yields
    ------
    outline : array, shape (4, 2)
        In the pad's frame. [m]
    lowered, raised : Ground
        Above a formation level the one is cut by the bank, below it the other is filled.
    """
    for outline, normal, offset in wedges(pad, reach):
        distance = _distances(ground, placement, normal, offset)
        yield (
            outline,
            _raised(ground, -pad.edge.cut_slope * distance),
            _raised(ground, pad.edge.fill_slope * distance),
        )


def _together(parts: list[Pieces], datum: float) -> Pieces:
    """Return the pieces of several wedges as those of one place, their heights counted from one level."""
    height = np.concatenate([part.height + (part.datum - datum) for part in parts])
    nothing = np.full(1, np.nan)
    return Pieces(
        np.concatenate([part.area for part in parts]),
        height,
        np.zeros(len(height), dtype=np.int64),
        nothing,
        nothing,
        datum,
    )


def _distances(ground: Ground, placement: Placement, normal: FloatArray, offset: float) -> FloatArray:
    """Return the distance of each corner of the ground outward from the line of a side. [m]"""
    local = Placement(
        placement.east - float(ground.origin[0]), placement.north - float(ground.origin[1]), placement.bearing, 0.0
    )
    distance: FloatArray = local.to_pad(np.column_stack([ground.east, ground.north])) @ normal - offset
    return distance


def _raised(ground: Ground, by: FloatArray) -> Ground:
    """Return the same triangles with their corners raised; the index over the plan is shared."""
    raised = replace(ground, level=ground.level + by)
    raised.__dict__["index"] = ground.index
    return raised


def balanced_level(banked: BankedPad, *, keep: float, bought: float = 0.0) -> float:
    """Return the formation level at which the cut, rammed in place, just makes the fill, banks included. [m]

    ``keep (cut + bank cut) + bought - fill - bank fill`` falls as the level rises; its root is found by Brent's method
    to the last digits.

    Parameters
    ----------
    banked : BankedPad
        The pad and its banks.
    keep : float
        Compacted volume made of one volume dug.
    bought : float
        Compacted volume brought in. [m³]
    """
    from scipy.optimize import brentq  # noqa: PLC0415 -- 0.6 s of import that only a bank needs

    def surplus(level: float) -> float:
        cut, fill, bank_cut, bank_fill = banked.volumes(level)
        return keep * (cut + bank_cut) + bought - fill - bank_fill

    levels = banked.inside.levels - banked.pad.strip
    low, high = float(levels.min()), float(levels.max())
    step = max(high - low, ROOM)
    while surplus(low) < 0:
        low -= step
        step *= 2
    step = max(high - low, ROOM)
    while surplus(high) > 0:
        high += step
        step *= 2
    return float(brentq(surplus, low, high, xtol=1e-12, rtol=4 * np.finfo(float).eps))
