"""The local searches, on functions whose least value is known by calculus."""

from __future__ import annotations

import numpy as np
import pytest

from spadework.pad import Pad
from spadework.placement import BearingLimit, Limits, PositionLimit
from spadework.placement.descent import around, shaken
from spadework.placement.polish import Freedom, polish
from spadework.readings import FloatArray

PAD = Pad.rectangle(4.0, 3.0)
FREE = Freedom(PAD, Limits(), 2.5)
SEEDS = np.array([[0.0, 0.0, 10.0], [5.0, -2.0, 60.0]])


def bowl(poses: FloatArray) -> FloatArray:
    """Least, 7, at (3, 1) and bearing 40."""
    value: FloatArray = 7 + (poses[:, 0] - 3) ** 2 + 4 * (poses[:, 1] - 1) ** 2 + 0.001 * (poses[:, 2] - 40) ** 2
    return value


def fenced(poses: FloatArray) -> FloatArray:
    """East plus north, infinite beyond a line askew to the axes and another: least at their corner (1, -2)."""
    kept = (poses[:, 0] + 0.31 * poses[:, 1] >= 1 - 0.62) & (poses[:, 1] - 0.2 * poses[:, 0] >= -2.2)
    return np.where(kept, 2 * poses[:, 0] + poses[:, 1], np.inf)


def creased(poses: FloatArray) -> FloatArray:
    """A steep crease that runs askew, gently falling along it to its least, 0, at the origin and bearing 0."""
    across = poses[:, 0] + 0.7 * poses[:, 1] + 0.02 * poses[:, 2]
    value: FloatArray = 10 * np.abs(across) + 0.1 * np.hypot(poses[:, 1], 0.05 * poses[:, 2])
    return value


def test_polish_when_smooth() -> None:
    """Both seeds come to rest at the bottom."""
    poses, values, tried = polish(bowl, FREE, SEEDS, step=1.0, finest=1e-6)
    assert values == pytest.approx([7.0, 7.0], abs=1e-8)
    assert poses[0] == pytest.approx([3.0, 1.0, 40.0], abs=1e-3)
    assert tried > 100


def test_polish_when_the_least_is_in_a_corner_of_what_is_allowed() -> None:
    """Where every step along the axes breaks a limit, the turned steps go on along the line."""
    _, values, _ = polish(fenced, FREE, np.add(SEEDS, [4.0, 4.0, 0.0]), step=0.5, finest=1e-7, cubes=6)
    assert values == pytest.approx([0.0, 0.0], abs=1e-3)


def test_polish_when_the_position_is_fixed() -> None:
    """Only the bearing moves, and the named corner stays where it must."""
    limits = Limits(position=PositionLimit(1.0, 2.0, corner="A"))
    freedom = Freedom(PAD, limits, 2.5)
    seeds = np.array([[0.0, 0.0, 30.0]])
    poses, _, _ = polish(lambda p: (p[:, 2] - 47.0) ** 2, freedom, freedom.held(seeds), step=0.5, finest=1e-6)
    assert poses[0, 2] == pytest.approx(47.0, abs=1e-3)
    assert poses[0, :2] == pytest.approx(limits.position.centres(PAD, poses[:, 2])[0], abs=1e-12)  # type: ignore[union-attr]


def test_polish_when_the_bearing_is_fixed() -> None:
    """The bearing stays to the last digit."""
    freedom = Freedom(PAD, Limits(bearing=BearingLimit(10.0)), 2.5)
    poses, _, _ = polish(bowl, freedom, SEEDS[:1], step=0.5, finest=1e-6)
    assert poses[0, 2] == 10.0
    assert poses[0, :2] == pytest.approx([3.0, 1.0], abs=1e-3)


def test_polish_when_all_is_fixed() -> None:
    """Nothing moves."""
    limits = Limits(position=PositionLimit(1.0, 2.0), bearing=BearingLimit(10.0))
    seeds = np.array([[1.0, 2.0, 10.0]])
    poses, values, tried = polish(bowl, Freedom(PAD, limits, 2.5), seeds, step=0.5, finest=1e-6)
    assert np.array_equal(poses, seeds)
    assert values == bowl(seeds)
    assert tried == 1


def test_polish_when_everything_is_equal() -> None:
    """A tie does not wander."""
    poses, _, _ = polish(lambda p: np.zeros(len(p)), FREE, SEEDS, step=1.0, finest=1e-3)
    assert np.array_equal(poses, SEEDS)


def test_directions_when_turned() -> None:
    """Turned cubes are still cubes: 26 steps of the same lengths, each with its opposite."""
    steps = FREE.directions(3, 5)
    assert steps.shape == (78, 3)
    lengths = np.sort(np.linalg.norm(steps.reshape(3, 26, 3), axis=2), axis=1)
    assert lengths[1] == pytest.approx(lengths[0])
    assert lengths[2] == pytest.approx(lengths[0])
    for cube in steps.reshape(3, 26, 3):
        assert np.abs(cube[:, None] + cube[None]).sum(axis=2).min(axis=1) == pytest.approx(np.zeros(26), abs=1e-12)


def test_around_when_the_least_lies_beside_the_seed() -> None:
    """The best pose of the finer grid is taken: (3, 1) is one of its poses; a seed among infinities stays."""
    found = around(bowl, FREE, np.array([[2.5, 0.5, 38.0]]), np.array([1.0, 1.0, 4.0]), 9)
    assert found[0] == pytest.approx([3.0, 1.0, 40.0])
    stuck = around(lambda p: np.full(len(p), np.inf), FREE, SEEDS, np.ones(3), 3)
    assert np.array_equal(stuck, SEEDS)


def test_shaken_when_the_polish_stops_in_a_crease() -> None:
    """Shaking goes on along a crease where the polish alone stops too soon."""
    seeds = np.array([[-2.0, 3.0, 20.0]])
    poses, values, _ = polish(creased, FREE, seeds, step=0.5, finest=0.02)
    more, found, tried = shaken(creased, FREE, poses, values, width=0.5, rounds=6, kept=4, copies=12)
    assert found.min() < 0.8 * values[0]
    assert creased(more) == pytest.approx(found)
    assert tried > 0
