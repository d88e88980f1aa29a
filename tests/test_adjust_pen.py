"""What a written number may have been meant to be: every slip of the pen, worked by hand."""

from __future__ import annotations

import pytest

from spadework.adjust.pen import meant_angles, meant_distances, meant_readings
from spadework.units import FOOT


def kinds(found: object) -> dict[str, list[float]]:
    """The slips by kind, with what may have been meant."""
    return {kind: [meant for meant, _ in choices] for kind, choices in found}  # type: ignore[attr-defined]


def test_distance_in_metres_when_written_to_the_centimetre() -> None:
    """12.40 m: digits exchanged, a metre or ten out, a decimetre, a digit left out or one too many."""
    found = kinds(meant_distances(12.40, 0.01))
    for meant in (21.40, 14.20, 12.04):
        assert any(value == pytest.approx(meant) for value in found["exchanged"])
    assert found["whole"] == pytest.approx([13.40, 11.40])
    assert found["ten"] == pytest.approx([22.40, 2.40])
    assert found["tenth"] == pytest.approx([12.50, 12.30])
    for meant in (112.40, 132.40, 127.40):
        assert any(value == pytest.approx(meant) for value in found["dropped"])
    assert found["doubled"] == pytest.approx([1.40, 2.40])
    assert "minus" not in found


def test_distance_in_feet_when_inches_were_written_as_tenths() -> None:
    """5.4 ft written for 5 ft 4 in; 5.11 ft for 5 ft 11 in, or for 5 ft 1.1 in read as tenths of nothing."""
    assert kinds(meant_distances(5.4 * FOOT, 0.1 * FOOT))["inches"] == pytest.approx([(5 + 4 / 12) * FOOT])
    assert any(
        value == pytest.approx((5 + 11 / 12) * FOOT)
        for value in kinds(meant_distances(5.11 * FOOT, 0.01 * FOOT))["inches"]
    )
    assert kinds(meant_distances(5.4 * FOOT, 0.1 * FOOT))["whole"] == pytest.approx([6.4 * FOOT, 4.4 * FOOT])


def test_rod_reading_when_its_minus_is_lost() -> None:
    """A rod held upside down is written with a minus; a distance never is."""
    assert kinds(meant_readings(1.352, 0.001))["minus"] == [-1.352]


def test_angle_when_written_in_degrees_minutes_and_seconds() -> None:
    """34-15-30: half a turn, a degree, ten degrees, ten minutes, and digits exchanged that still make an angle."""
    found = kinds(meant_angles(34 + 15 / 60 + 30 / 3600, 1 / 3600))
    whole = 34 + 15 / 60 + 30 / 3600
    assert found["turned"] == pytest.approx([whole + 180])
    assert found["whole"] == pytest.approx([whole + 1, whole - 1])
    assert found["ten"] == pytest.approx([whole + 10, whole - 10])
    assert found["tenth"] == pytest.approx([whole + 1 / 6, whole - 1 / 6])
    for meant in (43 + 15 / 60 + 30 / 3600, 34 + 51 / 60 + 30 / 3600, 34 + 15 / 60 + 3 / 3600):
        assert any(value == pytest.approx(meant) for value in found["exchanged"])
    assert all(0 <= value < 360 for values in found.values() for value in values)


def test_angle_when_written_in_decimals() -> None:
    """34.26 degrees: its four digits exchanged, without minutes."""
    found = kinds(meant_angles(34.26, 0.01))
    for meant in (43.26, 34.62, 32.46):
        assert any(value == pytest.approx(meant) for value in found["exchanged"])
    assert "tenth" not in found
