"""Poses against boundary, holes and keep-outs."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.pad import Pad
from spadework.pad_shapes import circle
from spadework.placement.clearance import Clearance
from spadework.placement.clearance_kernel import clear_kernel
from spadework.placement.clearance_numpy import clear_with_numpy
from spadework.placement.limits import KeepOut, Limits

YARD = np.array([[0.0, 0.0], [20.0, 0.0], [20.0, 15.0], [0.0, 15.0]])
WIDE = (np.array([[-50.0, -50.0], [70.0, -50.0], [70.0, 65.0], [-50.0, 65.0]]),)
PAD = Pad.rectangle(4.0, 3.0)
U_SHAPE = np.array([[0, 0], [20, 0], [20, 15], [13, 15], [13, 6], [7, 6], [7, 15], [0, 15]], dtype=float)


def clearance(pad: Pad = PAD, **limits: object) -> Clearance:
    """Return the laid-out limits inside a measured ground much wider than the yard."""
    return Clearance.of(pad, Limits(**limits), WIDE, np.zeros(2))


def allows(layout: Clearance, east: float, north: float, bearing: float) -> bool:
    """Return whether one pose is allowed."""
    return bool(layout.allowed(np.array([[east, north, bearing]]))[0])


@pytest.mark.parametrize(
    ("pose", "expected"),
    [
        pytest.param((2.5, 3.0, 0.0), True, id="touches the setback line"),
        pytest.param((2.499999, 3.0, 0.0), False, id="a micrometre over it"),
        pytest.param((18.0, 12.5, 90.0), False, id="too near along the bearing"),
        pytest.param((17.0, 12.5, 90.0), True, id="touches two lines"),
        pytest.param((-30.0, 7.0, 0.0), False, id="wholly outside"),
    ],
)
def test_setback_when_the_pad_nears_a_side(pose: tuple[float, float, float], expected: bool) -> None:
    """The pad may touch the setback line and not cross it; hand-measured cases."""
    assert allows(clearance(boundary=(YARD,), setback=1.0), *pose) is expected


def test_boundary_when_the_pad_shares_a_side_without_setback() -> None:
    """A pad that lies along the boundary, corner in corner, is inside it."""
    assert allows(clearance(boundary=(YARD,)), 1.5, 2.0, 0.0)


def test_boundary_when_a_notch_runs_through_the_pad() -> None:
    """All corners inside are not enough: the notch of a U cuts the pad in two."""
    long_pad = Pad.rectangle(2.0, 16.0)
    layout = clearance(long_pad, boundary=(U_SHAPE,))
    assert not allows(layout, 10.0, 10.0, 0.0)
    assert allows(layout, 10.0, 3.0, 0.0)


def test_boundary_when_its_corners_lie_on_the_pad_edge() -> None:
    """A spike whose corners all lie on the pad's edge still enters the pad."""
    spike = np.array([[0, 0], [20, 0], [20, 15], [10.1, 15], [10, 8.0], [10, 12.0], [9.9, 15], [0, 15]], dtype=float)
    layout = clearance(boundary=(spike,))
    assert not allows(layout, 10.0, 10.0, 0.0)


SHED = np.array([[12.0, 5.0], [14.0, 5.0], [14.0, 9.0], [12.0, 9.0]])


@pytest.mark.parametrize(
    ("keep_out", "expected"),
    [
        pytest.param(KeepOut.circle("tree", (10.0, 9.5), 1.0), True, id="circle touches a long side"),
        pytest.param(KeepOut.circle("tree", (10.0, 9.5), 1.001), False, id="circle enters"),
        pytest.param(KeepOut.circle("tree", (10.0, 7.0), 0.1), False, id="small circle inside the pad"),
        pytest.param(KeepOut.circle("peg", (10.0, 7.0), 0.0), False, id="a bare point inside the pad"),
        pytest.param(KeepOut.circle("tree", (13.5, 10.5), 2.5), True, id="circle touches a corner: 1.5, 2, 2.5"),
        pytest.param(KeepOut.circle("tree", (13.5, 10.5), 2.501), False, id="circle over a corner"),
        pytest.param(KeepOut.polygon("pond", YARD), False, id="pad wholly inside a keep-out"),
        pytest.param(KeepOut.polygon("drain", [[9.8, 6.8], [10.2, 6.8], [10.0, 7.2]]), False, id="it lies in the pad"),
        pytest.param(KeepOut.polygon("shed", SHED), True, id="shares an edge"),
        pytest.param(KeepOut.polygon("shed", SHED - [0.001, 0.0]), False, id="overlaps by a millimetre"),
        pytest.param(KeepOut.polygon("shed", np.add(SHED, [0.4, 0.0]), 0.4), True, id="just its clearance away"),
        pytest.param(KeepOut.polygon("shed", np.add(SHED, [0.4, 0.0]), 0.401), False, id="nearer than its clearance"),
    ],
)
def test_keep_out_when_near_the_pad(keep_out: KeepOut, expected: bool) -> None:
    """A pad from 8 to 12 m east and 5.5 to 8.5 m north, against keep-outs placed by hand."""
    layout = clearance(Pad.rectangle(3.0, 4.0), boundary=(YARD,), keep_outs=(keep_out,))
    assert allows(layout, 10.0, 7.0, 0.0) is expected


def test_distances_when_the_pad_is_clear() -> None:
    """Each limit gets its own distance: 3 m to the nearest side, 1 m to the tree, 43 m to the end of the ground."""
    tree = KeepOut.circle("tree", (10.0, 9.5), 0.2)
    layout = clearance(Pad.rectangle(3.0, 4.0), boundary=(YARD,), keep_outs=(tree,))
    distances = layout.distances(np.array([[10.0, 7.0, 0.0]]))
    assert layout.names == ("the boundary", "the measured ground", "tree")
    assert distances[0] == pytest.approx([5.5, 55.5, 1.0], abs=1e-12)


def test_boundary_when_absent() -> None:
    """Without a boundary the setback counts from the outline of the measured ground."""
    layout = Clearance.of(PAD, Limits(setback=2.0), (YARD,), np.zeros(2))
    assert allows(layout, 3.5, 7.0, 0.0)
    assert not allows(layout, 3.49, 7.0, 0.0)


def test_clearance_when_the_site_is_far_from_the_origin() -> None:
    """Half a million metres away the setback line is still touched and not crossed."""
    shift = np.array([532_417.25, 5_401_733.5])
    layout = Clearance.of(PAD, Limits(boundary=(YARD + shift,), setback=1.0), (WIDE[0] + shift,), shift)
    assert allows(layout, *np.add(shift, [2.5, 3.0]), 0.0)
    assert not allows(layout, *np.add(shift, [2.49999, 3.0]), 0.0)


def test_pad_when_it_is_not_convex() -> None:
    """An L-shaped pad goes round a corner that a rectangle of its size would cover."""
    ell = Pad(np.array([[-2, -2], [0, -2], [0, 0], [2, 0], [2, 2], [-2, 2]], dtype=float))
    post = KeepOut.circle("post", (8.5, 8.5), 0.4)
    assert allows(clearance(ell, boundary=(YARD,), keep_outs=(post,)), 10.0, 7.5, 0.0)
    assert not allows(clearance(ell, boundary=(YARD,), keep_outs=(post,)), 8.7, 7.5, 0.0)
    assert not allows(clearance(Pad.rectangle(4.0, 4.0), boundary=(YARD,), keep_outs=(post,)), 10.0, 7.5, 0.0)


@pytest.mark.parametrize(
    "pad",
    [
        pytest.param(Pad(np.array([[-2, -2], [0, -2], [0, 0], [2, 0], [2, 2], [-2, 2]], dtype=float)), id="L"),
        pytest.param(Pad(circle(1.6), radius=1.6), id="circle"),
    ],
)
def test_kernels_when_compared(pad: Pad) -> None:
    """The compiled kernel and its stand-in agree on every distance and every verdict."""
    rng = np.random.default_rng(20)
    pond = KeepOut.polygon("pond", [[4, 4], [8, 5], [7, 9], [5, 8]], 0.7)
    layout = clearance(pad, boundary=(U_SHAPE,), setback=0.5, keep_outs=(pond, KeepOut.circle("tree", (15, 4), 1.0)))
    poses = np.column_stack([rng.uniform(-3, 23, 2000), rng.uniform(-3, 18, 2000), rng.uniform(0, 2 * np.pi, 2000)])
    shape = layout.shape
    results = []
    for kernel, every in (
        (clear_kernel, True),
        (clear_with_numpy, True),
        (clear_kernel, False),
        (clear_with_numpy, False),
    ):
        distance, allowed = np.full((2000, 4), np.inf), np.ones(2000, dtype=bool)
        kernel(
            poses, layout.land, layout.first_side, layout.inside, layout.required, shape.corners, shape.parts.sides,
            shape.parts.outer, shape.parts.part, shape.inner, shape.reach, shape.radius, every, distance, allowed,
        )  # fmt: skip
        results.append((distance, allowed))
    assert np.allclose(results[0][0], results[1][0], rtol=0, atol=1e-12)
    for _, allowed in results[1:]:
        assert np.array_equal(allowed, results[0][1])
    assert 20 < results[0][1].sum() < 1980
