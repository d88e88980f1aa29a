"""The wanted level place: its outline, build-up and edge, and where it is put.

The pad has a frame of its own: ``u`` runs along its length, in the direction of its bearing; ``v`` runs across,
to the right of ``u``; the origin is the middle of the outline. Corners are lettered clockwise as seen from above. How
other shapes than a rectangle are drawn stands in `spadework.pad_shapes`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from spadework.readings import FloatArray

__all__ = ["BuildUp", "Edge", "Layer", "Pad", "Placement", "corner_names"]


@dataclass(frozen=True, slots=True)
class Layer:
    """One layer of the build-up.

    Parameters
    ----------
    material : str
        Name of a row of ``factors/densities.toml``, or the user's own word.
    depth : float
        Compacted depth. [m]
    """

    material: str
    depth: float


@dataclass(frozen=True, slots=True)
class BuildUp:
    """The layers between formation and finish, the lowest first."""

    layers: tuple[Layer, ...] = ()

    @property
    def thickness(self) -> float:
        """Finish level minus formation level. [m]"""
        return math.fsum(layer.depth for layer in self.layers)


@dataclass(frozen=True, slots=True)
class Edge:
    """How the pad meets the ground.

    Parameters
    ----------
    kind : str
        ``"timber"`` or another retained edge (vertical sides), or ``"bank"``.
    beam : str
        Section of the timber as sold, for a timber edge.
    cut_slope, fill_slope : float
        For a bank: rise over run of the cut and of the fill slope.
    corners : str
        For a bank: ``"mitred"``, its planes run on until they meet, or ``"round"``, a cone about each outward corner.
    """

    kind: str = "retained"
    beam: str = ""
    cut_slope: float = math.inf
    fill_slope: float = math.inf
    corners: str = "mitred"

    @property
    def retained(self) -> bool:
        """Whether the sides are vertical."""
        return self.kind != "bank"


def corner_names(count: int) -> tuple[str, ...]:
    """Return the corner letters A, B, ... Z, A1, B1, ... for ``count`` corners, clockwise."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    return tuple(letters[i % 26] + (str(i // 26) if i >= 26 else "") for i in range(count))


@dataclass(frozen=True)
class Pad:
    """The pad in its own frame.

    Parameters
    ----------
    outline : array, shape (m, 2)
        Corners ``u, v`` clockwise from above (``u`` ahead, ``v`` to the right), without repeating the first. [m]
    build_up : BuildUp
        Layers between formation and finish.
    strip : float
        Depth of turf and topsoil taken off first. [m]
    edge : Edge
        How it meets the ground.
    building : tuple of float, optional
        Length and width of the building that stands on it. [m]
    radius : float, optional
        Of a round pad, whose outline is then a polygon of the same area: see `spadework.pad_shapes.circle`. [m]
    front : str
        Letters of the side that is its front, as ``BC``; empty where it has none.
    """

    outline: FloatArray
    build_up: BuildUp = field(default_factory=BuildUp)
    strip: float = 0.0
    edge: Edge = field(default_factory=Edge)
    building: tuple[float, float] | None = None
    radius: float | None = None
    front: str = ""

    @classmethod
    def rectangle(
        cls,
        length: float,
        width: float,
        *,
        build_up: BuildUp | None = None,
        strip: float = 0.0,
        edge: Edge | None = None,
        building: tuple[float, float] | None = None,
        front: str = "",
    ) -> Pad:
        """Return a rectangular pad with corners A, B along the left side and C, D along the right.

        Parameters
        ----------
        length, width : float
            Along and across the bearing. [m]
        build_up, strip, edge, building, front
            As for the pad itself.
        """
        u, v = length / 2, width / 2
        outline = np.array([[-u, -v], [u, -v], [u, v], [-u, v]], dtype=np.float64)
        return cls(outline, build_up or BuildUp(), strip, edge or Edge(), building, front=front)

    @property
    def area(self) -> float:
        """Plan area by the coordinate formula, |½ Σ (u_i v_{i+1} - u_{i+1} v_i)|. [m²]"""
        u, v = self.outline.T
        return 0.5 * abs(float(np.dot(u, np.roll(v, -1)) - np.dot(v, np.roll(u, -1))))

    @property
    def names(self) -> tuple[str, ...]:
        """Corner letters, clockwise; of a round pad A, B, C and D are the quarter points, A1, A2, ... come after A."""
        count = len(self.outline)
        if self.radius is None:
            return corner_names(count)
        return tuple("ABCD"[4 * i // count] + (str(i % (count // 4)) if i % (count // 4) else "") for i in range(count))

    @property
    def marked(self) -> tuple[tuple[str, ...], FloatArray]:
        """Letters and places ``u, v`` of what is marked on the ground: the corners, or the quarter points of a circle.

        [m]
        """
        if self.radius is None:
            return self.names, self.outline
        return ("A", "B", "C", "D"), self.radius * np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]])

    @property
    def sized(self) -> Literal["rectangle", "L", "circle", "polygon"]:
        """What kind of shape it is."""
        if self.radius is not None:
            return "circle"
        if self.is_rectangle:
            return "rectangle"
        before, after = (
            self.outline - np.roll(self.outline, 1, axis=0),
            np.roll(self.outline, -1, axis=0) - self.outline,
        )
        square = np.abs((before * after).sum(axis=1)) <= 1e-9 * np.hypot(*before.T) * np.hypot(*after.T)
        return "L" if len(self.outline) == 6 and bool(square.all()) else "polygon"

    @property
    def sides(self) -> FloatArray:
        """Length of each side, from its corner to the next. [m]"""
        length: FloatArray = np.hypot(*(np.roll(self.outline, -1, axis=0) - self.outline).T)
        return length

    @property
    def is_rectangle(self) -> bool:
        """Whether the outline has four corners and equal diagonals and opposite sides, the first along the bearing."""
        if len(self.outline) != 4:
            return False
        a, b, c, d = self.outline
        square = np.allclose(a + c, b + d, atol=1e-9) and abs(math.dist(a, c) - math.dist(b, d)) < 1e-9
        return bool(square and abs(b[1] - a[1]) < 1e-9 and b[0] > a[0])


@dataclass(frozen=True, slots=True)
class Placement:
    """Where the pad is put.

    Parameters
    ----------
    east, north : float
        Site position of the origin of the pad's frame. [m]
    bearing : float
        Direction of the pad's ``u`` axis, clockwise from site north. [deg]
    finish : float
        Finish level. [m]
    """

    east: float
    north: float
    bearing: float
    finish: float

    def corners(self, pad: Pad) -> FloatArray:
        """Return the pad's corners in site axes, ``east, north`` per row. [m]"""
        return self.to_site(pad.outline)

    def to_site(self, points: FloatArray) -> FloatArray:
        """Turn points of the pad's frame into site axes.

        ``east = E + u sin β + v cos β`` and ``north = N + u cos β - v sin β``.

        Parameters
        ----------
        points : array, shape (n, 2)
            ``u, v``. [m]

        Returns
        -------
        array, shape (n, 2)
            ``east, north``. [m]
        """
        sine, cosine = _sine_cosine(self.bearing)
        u, v = points[..., 0], points[..., 1]
        return np.stack([self.east + u * sine + v * cosine, self.north + u * cosine - v * sine], axis=-1)

    def to_pad(self, points: FloatArray) -> FloatArray:
        """Turn points of site axes into the pad's frame: the inverse of `to_site`.

        Parameters
        ----------
        points : array, shape (n, 2)
            ``east, north``. [m]

        Returns
        -------
        array, shape (n, 2)
            ``u, v``. [m]
        """
        sine, cosine = _sine_cosine(self.bearing)
        east, north = points[..., 0] - self.east, points[..., 1] - self.north
        return np.stack([east * sine + north * cosine, east * cosine - north * sine], axis=-1)

    def formation(self, pad: Pad) -> float:
        """Level of the surface dug or filled to: finish less build-up. [m]"""
        return self.finish - pad.build_up.thickness


def _sine_cosine(bearing: float) -> tuple[float, float]:
    """Return sine and cosine of a bearing in degrees, exact at the quarter turns."""
    quarter, rest = divmod(bearing, 90.0)
    angle = math.radians(rest)
    sine, cosine = math.sin(angle), math.cos(angle)
    turn = int(quarter) % 4
    return ((sine, cosine), (cosine, -sine), (-sine, -cosine), (-cosine, sine))[turn]
