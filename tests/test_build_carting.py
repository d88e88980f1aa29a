"""What a loose volume fills, by the table of containers."""

from __future__ import annotations

import pytest

from spadework.build.carting import carting_words, containers_filled
from spadework.earthwork import Range
from spadework.units import LengthUnit

CUBIC_FOOT = 0.3048**3


@pytest.mark.parametrize(
    ("cubic_feet", "expected"),
    [
        (10.0, {"rubble sack": 10, "bulk bag": 1}),
        (30.0, {"rubble sack": 30, "bulk bag": 2, "skip of 4 yd³": 1}),
        (108.0, {"bulk bag": 5, "skip of 4 yd³": 1, "skip of 8 yd³": 1, "tipper truck of 10 yd³": 1}),
        (540.0, {"skip of 8 yd³": 3, "tipper truck of 10 yd³": 2}),
        (0.1, {}),
    ],
)
def test_containers_are_counted_up(cubic_feet: float, expected: dict[str, int]) -> None:
    """Whole containers of 1, 25, 108, 216 and 270 ft³, rounded up; what suits the volume and no more."""
    assert dict(containers_filled(cubic_feet * CUBIC_FOOT)) == expected


def test_sentence_says_volume_range_and_containers() -> None:
    """Likely volume, its range, and what it fills in the singular and the plural."""
    words = carting_words("Left over", Range(0.8, 0.85, 0.9), LengthUnit.METRE)
    assert words == (
        "Left over: 0.85 m³ of loose soil (0.80 m³ to 0.90 m³): 31 rubble sacks, or 2 bulk bags, or 1 skip of 4 yd³."
    )
    assert carting_words("Left over", Range(0.0, 0.0, 0.05), LengthUnit.METRE) is None
