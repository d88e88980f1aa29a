"""Banks another way, for the check of a proof: a geometry library cuts the plan about the pad and the ground in it.

Nothing is shared with the kernels but the data. About an outward corner that is round, a dozen planes to a quarter of a
turn stand in for the cone, each of them so much steeper in all its directions that on level ground the soil is the
cone's own; on other ground it is the cone's to about a part in a million.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from spadework.ground import Ground
from spadework.pad import Pad, Placement
from spadework.placement.land import keep_out_shape
from spadework.placement.limits import Limits
from spadework.readings import FloatArray, IntArray

__all__ = ["BankSoil", "BanksAgain", "mean_above", "share_above"]

FACETS = 12
"""Planes to a quarter of a turn about a round corner."""
QUADRANT, POINT = 32, 1e-3
"""What banks keep clear of, as the search has it: chords to a quarter turn about it, and about a bare point. [m]"""
THREAD = 1e-6
"""Rises and heights beyond which ground counts as steeper than a bank, and as on both sides of a level."""


def mean_above(depth: FloatArray) -> FloatArray:
    """Return the means of what is above zero of planes over triangles with these corner heights.

    The solid above zero is cut into tetrahedra from its lowest corner upward: one, or the whole less one.

    Parameters
    ----------
    depth : array, shape (k, 3)
        Heights of the corners. [m]

    Returns
    -------
    array, shape (k,)
        [m]
    """
    d2, d1, d0 = np.sort(depth, axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip, rest = d0**3 / (3 * (d0 - d1) * (d0 - d2)), d2**3 / (3 * (d0 - d2) * (d1 - d2))
    whole = (d0 + d1 + d2) / 3
    mean: FloatArray = np.select([d0 <= 0, d2 >= 0, d1 <= 0], [0.0 * d0, whole, tip], whole - rest)
    return mean


def share_above(depth: FloatArray) -> FloatArray:
    """Return the shares of triangles over which planes with these corner heights are above zero, shape (k,)."""
    d2, d1, d0 = np.sort(depth, axis=1).T
    with np.errstate(divide="ignore", invalid="ignore"):
        tip, rest = d0**2 / ((d0 - d1) * (d0 - d2)), d2**2 / ((d0 - d2) * (d1 - d2))
    share: FloatArray = np.select([d0 <= 0, d2 >= 0, d1 <= 0], [0.0 * d0, 1.0 + 0.0 * d0, tip], 1.0 - rest)
    return share


@dataclass(frozen=True)
class BankSoil:
    """The ground about one placement, as its banks meet it.

    Parameters
    ----------
    area : array, shape (k,)
        Plan area of each piece. [m²]
    cut, fill : array, shape (k, 3)
        Levels at its corners from which it is no longer dug, and above which it is made up. [m]
    cut_rise, fill_rise : array, shape (k,)
        By how much the ground rises, or falls, outward faster than the bank.
    least, most : float
        Levels between which the banks stay on the land. [m]
    """

    area: FloatArray
    cut: FloatArray
    fill: FloatArray
    cut_rise: FloatArray
    fill_rise: FloatArray
    least: float
    most: float

    def cut_fill(self, level: float) -> tuple[float, float]:
        """Return cut and fill beyond the pad at a level of unstripped ground. [m³]"""
        return (
            float(self.area @ mean_above(self.cut - level)),
            float(self.area @ mean_above(level - self.fill)),
        )

    def taken(self, level: float) -> float:
        """Return the plan area that the banks take beyond the pad at a level. [m²]"""
        return float(self.area @ (share_above(self.cut - level) + share_above(level - self.fill)))

    def met_again(self, level: float) -> bool:
        """Tell whether ground steeper than a bank passes it, so that the bank has no end there."""
        up = (self.cut.max(axis=1) > level + THREAD) & (self.cut.min(axis=1) < level - THREAD)
        down = (self.fill.max(axis=1) > level + THREAD) & (self.fill.min(axis=1) < level - THREAD)
        return bool((up & (self.cut_rise > THREAD)).any() or (down & (self.fill_rise > THREAD)).any())


class BanksAgain:
    """The plan about a pad with banks in triangles, each with how the distance from the pad grows in it.

    Parameters
    ----------
    ground, pad, limits
        As in `spadework.placement.search.find_placement`; the edge of the pad is a bank.
    below, above : float
        How far below and above the ground of the site levels will be asked for. [m]
    """

    def __init__(self, ground: Ground, pad: Pad, limits: Limits, below: float, above: float) -> None:
        import shapely  # noqa: PLC0415 -- only a check needs it

        self.shapely: Any = shapely
        self.slopes = pad.edge.cut_slope, pad.edge.fill_slope
        self.corners = np.column_stack([ground.east, ground.north])[ground.triangles]
        self.heights = ground.height[ground.triangles]
        self.faces: Any = shapely.polygons(self.corners)
        self.tree: Any = self.shapely.STRtree(self.faces)
        middle = self.corners.mean(axis=1)
        rows = np.concatenate([self.corners - middle[:, None], np.ones((len(middle), 3, 1))], axis=2)
        self.middle, self.planes = middle, np.linalg.solve(rows, self.heights[:, :, None])[:, :, 0]
        relief = float(np.ptp(self.heights))
        far = (relief + max(below, above)) / min(self.slopes)
        self.cells, self.plane, self.apex = self._about(pad, far)
        self.stretches = self._land(ground, limits)

    def _about(self, pad: Pad, far: float) -> tuple[FloatArray, FloatArray, FloatArray]:
        """Return triangles of the plan, ``a, b, c`` of ``d = a u + b v - c`` there, and the corner of a cone or NaN."""
        shapely = self.shapely
        shapes, planes, apexes = [], [], []
        for ring, plane, apex in self._strips(np.asarray(pad.outline, dtype=np.float64), pad.edge.corners, far):
            shapes.append(shapely.Polygon(ring))
            planes.append(plane)
            apexes.append(apex)
        tree, own = shapely.STRtree(shapes), shapely.Polygon(pad.outline)
        cells, numbers = [], []
        for k, shape in enumerate(shapes):
            left = shapely.difference(shape, own)
            for j in tree.query(shape).tolist():
                line = planes[j] - planes[k]
                if j == k or shapely.intersection(shapes[j], shape).area < 1e-9:
                    continue
                if float(np.hypot(line[0], line[1])) > 1e-12:
                    nearer = self._below(line, 8 * far + 99)
                else:  # sides that face the same way: one is the nearer all along
                    nearer = shapes[j] if line[2] > 1e-12 or (line[2] > -1e-12 and j < k) else shapely.Polygon()
                left = shapely.difference(left, shapely.intersection(shapes[j], nearer))
            for part in shapely.get_parts(left):
                for face in shapely.get_parts(shapely.constrained_delaunay_triangles(part)):
                    if face.area > 1e-9:
                        cells.append(np.array(face.exterior.coords)[:3])
                        numbers.append(k)
        return np.array(cells), np.array(planes)[numbers], np.array(apexes)[numbers]

    def _below(self, line: FloatArray, wide: float) -> Any:
        """Return the side of a line on which ``a u + b v - c`` is below zero, as far as ``wide``."""
        length = float(np.hypot(line[0], line[1]))
        out, on = line[:2] / length, line[:2] * line[2] / length**2
        along = wide * np.array([-out[1], out[0]])
        return self.shapely.Polygon([on + along, on - along, on - along - wide * out, on + along - wide * out])

    @staticmethod
    def _strips(ring: FloatArray, corners: str, far: float) -> list[tuple[FloatArray, FloatArray, FloatArray]]:
        """Return outline, plane and corner of what lies straight out of each side, and about each outward corner."""
        count, nowhere = len(ring), np.full(2, np.nan)
        normals = []
        for i in range(count):
            along = ring[(i + 1) % count] - ring[i]
            normals.append(np.array([along[1], -along[0]]) / math.hypot(*along))
        found = []
        bends = []
        for i in range(count):
            before, after = normals[i - 1], normals[i]
            bends.append(math.atan2(before[0] * after[1] - before[1] * after[0], float(before @ after)))
        for i in range(count):
            ends = []
            for k in (i, (i + 1) % count):
                # With mitred corners the planes run on to the line that halves the angle.
                mitre = normals[k - 1] + normals[k] if bends[k] > 1e-9 and corners != "round" else normals[i]
                ends.append(ring[k] + far * mitre / float(mitre @ normals[i]))
            strip = np.array([ring[i], ends[0], ends[1], ring[(i + 1) % count]])
            found.append((strip, np.append(normals[i], normals[i] @ ring[i]), nowhere))
        for i in range(count) if corners == "round" else ():
            pieces = max(math.ceil(FACETS * bends[i] / (math.pi / 2)), 1)
            start = math.atan2(normals[i - 1][1], normals[i - 1][0])
            for k in range(pieces if bends[i] > 1e-9 else 0):
                half = bends[i] / pieces / 2
                middle = start + (2 * k + 1) * half
                # ∫ dψ / cos² ψ = 2 tan half: on level ground the soil of a cone, whose integral is 2 half.
                steeper = math.sqrt(math.tan(half) / half)
                out = steeper * np.array([math.cos(middle), math.sin(middle)])
                rim = [
                    far / math.cos(half) * np.array([math.cos(a), math.sin(a)]) for a in (middle - half, middle + half)
                ]
                found.append((np.array([ring[i], *(ring[i] + r for r in rim)]), np.append(out, out @ ring[i]), ring[i]))
        return found

    def _land(self, ground: Ground, limits: Limits) -> FloatArray:
        """Return stretches that the banks must not touch, each straight on the ground, shape (r, 2, 3). [m]"""
        shapely = self.shapely
        sides = np.sort(ground.triangles[:, [[0, 1], [1, 2], [2, 0]]].reshape(-1, 2), axis=1)
        once, times = np.unique(sides, axis=0, return_counts=True)
        rim = once[times == 1]  # a side of one triangle only
        points = np.column_stack([ground.east, ground.north, ground.height])
        found = [points[rim]]
        lines = [shapely.LinearRing(ring - ground.origin) for ring in limits.boundary]
        for keep_out in limits.keep_outs:
            clearance = keep_out.clearance or (POINT if keep_out.is_circle or keep_out.open else 0.0)
            taken = keep_out_shape(keep_out).buffer(clearance / math.cos(math.pi / (4 * QUADRANT)), quad_segs=QUADRANT)
            lines.append(shapely.transform(taken, lambda places: places - ground.origin).boundary)
        for line in lines:
            for face in self.tree.query(line).tolist():
                for part in shapely.get_parts(shapely.intersection(line, self.faces[face])):
                    places = shapely.get_coordinates(part)
                    ends = np.column_stack([places, self._height(places, np.full(len(places), face))])
                    found.append(np.stack([ends[:-1], ends[1:]], axis=1))
        return np.vstack(found)

    def _height(self, places: FloatArray, faces: IntArray) -> FloatArray:
        """Return the height of the plane of a triangle at each place."""
        plane, off = self.planes[faces], places - self.middle[faces]
        height: FloatArray = plane[:, 0] * off[:, 0] + plane[:, 1] * off[:, 1] + plane[:, 2]
        return height

    def at(self, placed: Placement) -> BankSoil:
        """Return the ground about a placement in local coordinates."""
        shapely = self.shapely
        cells = shapely.polygons(placed.to_site(self.cells.reshape(-1, 2)).reshape(self.cells.shape))
        cell, face = self.tree.query(cells, predicate="intersects")
        shared = shapely.intersection(cells[cell], self.faces[face])
        some = (shapely.get_type_id(shared) == 3) & (shapely.area(shared) > 0)
        shared, cell, face = shared[some], cell[some], face[some]
        places, number = shapely.get_coordinates(shared, return_index=True)
        # Convex pieces as fans: the first corner with each side that does not touch it.
        count = np.bincount(number, minlength=len(shared))
        first = np.concatenate([[0], np.cumsum(count)[:-1]])
        at = np.arange(len(places)) - first[number]
        row = np.flatnonzero((at >= 1) & (at <= count[number] - 3))
        fan = np.column_stack([first[number[row]], row, row + 1])
        owner = number[row]
        cell, face = cell[owner], face[owner]
        height = self._height(places[fan].reshape(-1, 2), np.repeat(face, 3)).reshape(-1, 3)
        corner = placed.to_pad(places)[fan]
        side, other = corner[:, 1] - corner[:, 0], corner[:, 2] - corner[:, 0]
        area = 0.5 * np.abs(side[:, 0] * other[:, 1] - side[:, 1] * other[:, 0])
        plane = self.plane[cell]
        out = (corner * plane[:, None, :2]).sum(axis=2) - plane[:, 2:]
        s, f = self.slopes
        rise = Placement(0.0, 0.0, placed.bearing, 0.0).to_pad(self.planes[face][:, :2])
        outward = (rise * plane[:, :2]).sum(axis=1) / np.hypot(plane[:, 0], plane[:, 1])
        least, most = self._kept(placed)
        return BankSoil(area, height - s * out, height + f * out, outward - s, -outward - f, least, most)

    def _kept(self, placed: Placement) -> tuple[float, float]:
        """Return the lowest and the highest level whose banks touch no stretch of the land."""
        start, end = (placed.to_pad(self.stretches[:, k, :2]) for k in range(2))
        low, high = np.zeros((len(start), len(self.cells))), np.ones((len(start), len(self.cells)))
        side, other = self.cells[:, 1] - self.cells[:, 0], self.cells[:, 2] - self.cells[:, 0]
        around = np.where(side[:, 0] * other[:, 1] < side[:, 1] * other[:, 0], -1.0, 1.0)
        for k in range(3):
            one, two = self.cells[:, k], self.cells[:, (k + 1) % 3]
            inward = around[:, None] * np.column_stack([one[:, 1] - two[:, 1], two[:, 0] - one[:, 0]])
            at_start, at_end = (ends @ inward.T - (inward * one).sum(axis=1) for ends in (start, end))
            with np.errstate(divide="ignore", invalid="ignore"):
                crossing = at_start / (at_start - at_end)
            low = np.where((at_start < 0) & (at_end >= 0), np.maximum(low, crossing), low)
            high = np.where((at_start >= 0) & (at_end < 0), np.minimum(high, crossing), high)
            high = np.where((at_start < 0) & (at_end < 0), -1.0, high)
        row, cell = np.nonzero(low <= high)
        if not len(row):
            return -math.inf, math.inf
        low, high = low[row, cell], high[row, cell]

        def levels(share: FloatArray, slope: float, sign: float) -> FloatArray:
            place = start[row] + share[:, None] * (end[row] - start[row])
            height = self.stretches[row, 0, 2] + share * (self.stretches[row, 1, 2] - self.stretches[row, 0, 2])
            plane, apex = self.plane[cell], self.apex[cell]
            straight = (place * plane[:, :2]).sum(axis=1) - plane[:, 2]
            out = np.where(np.isnan(apex[:, 0]), straight, np.hypot(*(place - apex).T))
            found: FloatArray = sign * height - slope * out
            return found

        def highest(slope: float, sign: float) -> float:
            left, right = low.copy(), high.copy()
            for _ in range(60):  # along a stretch what is left falls away from one place to both sides
                one, two = left + (right - left) / 3, right - (right - left) / 3
                better: npt.NDArray[np.bool_] = levels(one, slope, sign) >= levels(two, slope, sign)
                left, right = np.where(better, left, one), np.where(better, two, right)
            return float(np.maximum.reduce([levels(share, slope, sign) for share in (low, high, left)]).max())

        return highest(self.slopes[0], 1.0), -highest(self.slopes[1], -1.0)
