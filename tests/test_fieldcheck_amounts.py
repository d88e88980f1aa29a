"""What is still to dig and to bring, and the stone each layer needs, in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from field_checks import check_of, grid_on, sloping_ground, wanted_pad
from spadework.fieldcheck import Amounts


def amounts_of(levels: object, stage: str = "formation", **pad: object) -> Amounts:
    """Amounts of a 4 m by 3 m pad measured on a grid."""
    wanted = wanted_pad(**pad)  # type: ignore[arg-type]
    points = grid_on(wanted)
    made = levels(points) if callable(levels) else np.full(len(points), levels)
    found = check_of(wanted, points, np.asarray(made, dtype=np.float64), stage).amounts
    assert found is not None
    return found


@pytest.mark.parametrize("bearing", [0.0, 17.0, 90.0])
def test_volume_when_all_is_off_by_one_amount(bearing: float) -> None:
    """30 mm too high over 12 m² is 0.36 m³ to dig and nothing to bring; too low the other way round."""
    high = amounts_of(100.03, bearing=bearing)
    low = amounts_of(99.97, bearing=bearing)
    assert (high.dig, high.bring) == pytest.approx((0.36, 0.0), abs=1e-9)
    assert (low.dig, low.bring) == pytest.approx((0.0, 0.36), abs=1e-9)
    assert high.covered == pytest.approx(1.0, abs=1e-9)


def test_volume_when_tilted_about_the_middle() -> None:
    """A level L by W with a slope s along W about its middle: cut = fill = L W² s / 8."""
    found = amounts_of(lambda points: 100.0 + 0.02 * (points[:, 1] - 30.0))
    assert found.dig == pytest.approx(3.0 * 4.0**2 * 0.02 / 8, abs=1e-9)
    assert found.bring == pytest.approx(found.dig, abs=1e-9)


def test_volume_after_the_strip_follows_the_ground() -> None:
    """After the strip, 20 mm left on everywhere are 0.24 m³, whatever the slope of the ground."""
    ground = sloping_ground(0.08, 0.03, 100.5, wanted_pad())
    found = amounts_of(
        lambda points: 100.5 + (points - [20.0, 30.0]) @ [0.08, 0.03] - 0.1 + 0.02, "strip", ground=ground
    )
    assert (found.dig, found.bring) == pytest.approx((0.24, 0.0), abs=1e-9)
    assert found.layers == ()


def test_stone_when_formation_is_right() -> None:
    """On a level formation each layer needs its depth over 12 m²; loose is times settling times what is spilt."""
    stone, sand = amounts_of(100.0).layers
    assert (stone.material, sand.material) == ("clean-stone-20", "sand")
    assert (stone.compacted, sand.compacted) == pytest.approx((1.2, 0.6), abs=1e-9)
    # Clean stone 1.10 and sand 1.17 loose for one compacted, 5 % spilt (factors/stone.toml, typed here).
    assert (stone.loose, sand.loose) == pytest.approx((1.2 * 1.10 * 1.05, 0.6 * 1.17 * 1.05), abs=1e-9)


@pytest.mark.parametrize(
    ("level", "stage", "stone", "sand", "under"),
    [
        (100.04, "formation", 0.06 * 12, 0.05 * 12, 0.0),  # 40 mm too high: the stone has 60 mm left
        (99.98, "formation", 0.1 * 12, 0.05 * 12, 0.02 * 12),  # 20 mm too low: that is missing below
        (100.1, "layer 1", 0.0, 0.05 * 12, 0.0),
        (100.12, "layer 1", 0.0, 0.03 * 12, 0.0),  # 20 mm too high eats into the sand
        (100.06, "+60 mm", 0.04 * 12, 0.05 * 12, 0.0),
        (100.15, "finish", 0.0, 0.0, 0.0),
        (100.13, "finish", 0.0, 0.02 * 12, 0.0),
    ],
)
def test_stone_when_off_at_each_stage(level: float, stage: str, stone: float, sand: float, under: float) -> None:
    """A layer still needs what is missing between its foot and its top."""
    found = amounts_of(level, stage)
    assert [layer.compacted for layer in found.layers] == pytest.approx([stone, sand], abs=1e-9)
    assert found.under == pytest.approx(under, abs=1e-9)


def test_stone_when_the_surface_crosses_a_layer() -> None:
    """A plane from 20 mm below to 20 mm above the top of a layer, along 4 m: half of it misses a wedge of 0.06 m³."""
    found = amounts_of(lambda points: 100.1 + 0.01 * (points[:, 1] - 30.0), "layer 1")
    wedge = 0.5 * 2.0 * 0.02 * 3.0
    assert [layer.compacted for layer in found.layers] == pytest.approx([wedge, 0.6 - wedge], abs=1e-9)


def test_volumes_are_of_the_measured_part() -> None:
    """Points that reach the half of the pad say what is to dig there; stone is reckoned for the whole."""
    wanted = wanted_pad()
    points = np.array([[18.5, 28.0], [21.5, 28.0], [21.5, 30.5], [18.5, 30.5]])
    found = check_of(wanted, points, np.full(4, 100.02)).amounts
    assert found is not None
    assert found.covered == pytest.approx(7.5 / 12, abs=1e-9)
    assert found.dig == pytest.approx(0.02 * 7.5, abs=1e-9)
    assert found.layers[0].compacted == pytest.approx(0.08 * 12, abs=1e-9)


def test_stone_is_not_said_when_little_was_measured() -> None:
    """A quarter of the pad says nothing of the stone for all of it."""
    wanted = wanted_pad()
    points = np.array([[18.5, 28.0], [21.5, 28.0], [21.5, 29.0], [18.5, 29.0]])
    found = check_of(wanted, points, np.full(4, 100.0)).amounts
    assert found is not None
    assert found.layers == ()


def test_stone_when_nobody_knows_the_material() -> None:
    """A material without a figure is counted as clean stone, and marked."""
    found = amounts_of(100.0, layers=(("crushed brick", 0.1),), finish=100.1)
    assert not found.layers[0].known
    assert found.layers[0].loose == pytest.approx(1.2 * 1.10 * 1.05, abs=1e-9)
