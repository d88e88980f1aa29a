"""Published profile and cross-section levels."""

from __future__ import annotations

import pytest

from books import FOOT, Cell, level_book, reduced

# "Profile leveling, handout 9" (Philippine surveying course), scribd 624270023. Readings as printed: ground to 0.1 m,
# turning points to 0.01 m; heights of instrument and levels worked out from them.
PROFILE: list[tuple[str, Cell, Cell, Cell, Cell, float]] = [
    ("BMa", 0.95, None, None, 126.45, 125.50),
    ("0+00", None, 3.0, None, None, 123.45),
    ("0+10", None, 2.3, None, None, 124.15),
    ("TP1", 3.13, None, 0.64, 128.94, 125.81),
    ("0+22", None, 2.7, None, None, 126.24),
    ("0+30.5", None, 2.8, None, None, 126.14),
    ("0+34.2", None, 3.1, None, None, 125.84),
    ("0+39.3", None, 0.5, None, None, 128.44),
    ("0+42.5", None, 0.8, None, None, 128.14),
    ("TP2", 2.16, None, 1.28, 129.82, 127.66),
    ("0+45", None, 0.9, None, None, 128.92),
    ("0+48.6", None, 1.2, None, None, 128.62),
    ("0+50", None, 1.7, None, None, 128.12),
    ("0+53.7", None, 2.8, None, None, 127.02),
    ("TP3", 0.82, None, 2.37, 128.27, 127.45),
    ("TP4", 1.35, None, 3.50, 126.12, 124.77),
    ("0+75", None, 3.0, None, None, 123.12),
    ("BMb", None, None, 1.99, None, 124.13),
]


def test_profile_when_reduced() -> None:
    """Four turning points; sums 8.41 and 9.78, -1.37; every level and height of instrument."""
    book = level_book(
        [row[:4] for row in PROFILE],
        step=0.01,
        printed={"printed": [row[5] for row in PROFILE], "printed_hi": [row[4] for row in PROFILE]},
    )
    levels = reduced(book, {"BMa": 125.50})
    assert levels.level == pytest.approx([row[5] for row in PROFILE], abs=0.005)
    assert levels.hi[[0, 3, 9, 14, 15]] == pytest.approx([126.45, 128.94, 129.82, 128.27, 126.12], abs=0.005)
    assert (levels.checks.sum_bs, levels.checks.sum_fs) == pytest.approx((8.41, 9.78), abs=0.005)
    assert levels.checks.difference == pytest.approx(-1.37, abs=0.005)
    assert not [text for text in levels.suspects if "printed" in text]


def test_cross_section_when_read_from_a_known_centre_line() -> None:
    """Station 0+00 at 122.53 ft, eye 5.5 ft above it: rods 1.9 and 3.3 ft give 126.1 and 124.7 ft.

    Navy Engineering Aid 3, NAVEDTRA 14069 p. 14-19,
    https://engineeringtraining.tpub.com/14069/css/Figure-14-20-Sample-Field-Notes-From-Cross-Section-Leveling-At-First-Three-Stations-Shown-In-Figure-14-7-485.htm
    The page rounds the height of instrument 128.03 to 128.0; levels are printed to 0.1 ft.
    """
    rows: list[tuple[str, Cell, Cell, Cell]] = [
        ("0+00", 5.5, None, None),
        ("40 left", None, 1.9, None),
        ("30 left", None, 3.3, None),
    ]
    levels = reduced(level_book(rows, unit=FOOT, step=0.1), {"0+00": 122.53 * FOOT})
    assert levels.hi[0] / FOOT == pytest.approx(128.0, abs=0.05)
    assert levels.level[1:] / FOOT == pytest.approx([126.1, 124.7], abs=0.05)
