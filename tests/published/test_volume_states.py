"""Published conversions between soil in the bank, loose and compacted, and the unit weights that go with them."""

import math

import pytest

from spadework.factors import SoilFactors, density, factor_row, soil_factors
from spadework.units import convert

# US Army FM 5-434, Earthmoving Operations, 15 June 2000, chapter 1, Table 1-1 (the same as NAVEDTRA 14070, Table 10-1):
# all nine cells of each soil, printed to 0.01. Numbers from memory, high confidence; the sand figures 111 and 95 of
# 100 were read where they are quoted.
ARMY_CELLS = [
    ("sand", "bank", (1.00, 1.11, 0.95)),
    ("sand", "loose", (0.90, 1.00, 0.86)),
    ("sand", "compacted", (1.05, 1.17, 1.00)),
    ("loam", "bank", (1.00, 1.25, 0.90)),
    ("loam", "loose", (0.80, 1.00, 0.72)),
    ("loam", "compacted", (1.11, 1.39, 1.00)),
    ("clay", "bank", (1.00, 1.43, 0.90)),
    ("clay", "loose", (0.70, 1.00, 0.63)),
    ("clay", "compacted", (1.11, 1.59, 1.00)),
    ("rock", "bank", (1.00, 1.50, 1.30)),
    ("rock", "loose", (0.67, 1.00, 0.87)),
    ("rock", "compacted", (0.77, 1.15, 1.00)),
    ("coral", "bank", (1.00, 1.50, 1.30)),
]


@pytest.mark.parametrize(("soil", "state", "cells"), ARMY_CELLS, ids=str)
def test_army_table_when_converted(soil: str, state: str, cells: tuple[float, ...]) -> None:
    """All nine cells of each soil follow from its loose and compacted rows, to the printed 0.01."""
    volume = {
        "bank": 1.0,
        "loose": factor_row("bulking", f"army-{soil}-loose").value,
        "compacted": factor_row("bulking", f"army-{soil}-compacted").value,
    }
    found = tuple(volume[wanted] / volume[state] for wanted in ("bank", "loose", "compacted"))
    assert found == pytest.approx(cells, abs=0.005)


# Japan, Ministry of Land, Infrastructure, Transport and Tourism, civil engineering cost-estimating standard, as quoted
# at nougyoudoboku.com/bulking-factor-of-soil: class, L, C; and L/C derived from them to 0.001.
MLIT = [
    ("gravelly", 1.20, 0.90, 1.333),
    ("sand", 1.20, 0.90, 1.333),
    ("cohesive", 1.25, 0.90, 1.389),
    ("boulders", 1.20, 1.00, 1.200),
    ("bouldery-1", 1.25, 0.96, 1.302),
    ("bouldery-2", 1.32, 1.04, 1.269),
    ("bouldery-3", 1.39, 1.11, 1.252),
    ("soft-rock-1", 1.30, 1.15, 1.130),
    ("soft-rock-2", 1.50, 1.20, 1.250),
    ("medium-rock", 1.60, 1.25, 1.280),
    ("hard-rock", 1.65, 1.40, 1.179),
]


@pytest.mark.parametrize(("soil", "loose", "compacted", "ratio"), MLIT)
def test_ministry_table_when_fill_needs_loose(soil: str, loose: float, compacted: float, ratio: float) -> None:
    """The loose volume needed for one compacted is L/C, to the printed 0.001."""
    row_loose = factor_row("bulking", f"mlit-{soil}-loose")
    row_compacted = factor_row("bulking", f"mlit-{soil}-compacted")
    assert (row_loose.value, row_compacted.value) == (loose, compacted)
    assert row_loose.value / row_compacted.value == pytest.approx(ratio, abs=0.0005)


# Japan Road Association, earthwork guideline, as quoted at ads3d.com/mondai/taisaku/ippan/d_ippan_04.html: ranges of
# L and C. The last three rows are from memory, medium confidence.
GUIDELINE = [
    ("hard-rock", (1.65, 2.00), (1.30, 1.50)),
    ("medium-rock", (1.50, 1.70), (1.20, 1.40)),
    ("boulders", (1.10, 1.20), (0.95, 1.05)),
    ("gravel", (1.10, 1.20), (0.85, 1.05)),
    ("gravelly", (1.10, 1.30), (0.85, 1.00)),
    ("cemented-gravelly", (1.25, 1.45), (1.10, 1.30)),
    ("sand", (1.10, 1.20), (0.85, 0.95)),
    ("sandy", (1.20, 1.30), (0.85, 0.95)),
    ("cohesive", (1.20, 1.45), (0.85, 0.95)),
]


@pytest.mark.parametrize(("soil", "loose", "compacted"), GUIDELINE)
def test_guideline_when_range(soil: str, loose: tuple[float, float], compacted: tuple[float, float]) -> None:
    """The guideline's ranges stand as ranges, its middle as the value."""
    for quantity, printed in (("loose", loose), ("compacted", compacted)):
        row = factor_row("bulking", f"road-{soil}-{quantity}")
        assert (row.low, row.high) == printed
        assert row.value == pytest.approx(sum(printed) / 2, abs=1e-9)


# Identity between swell, voids of the loose heap and load factor, printed to 0.1 % and 0.001.
@pytest.mark.parametrize(
    ("swell", "voids", "load_factor"),
    [
        (5, 4.8, 0.952),
        (10, 9.1, 0.909),
        (15, 13.0, 0.870),
        (20, 16.7, 0.833),
        (25, 20.0, 0.800),
        (30, 23.1, 0.769),
        (35, 25.9, 0.741),
        (40, 28.6, 0.714),
        (50, 33.3, 0.667),
    ],
)
def test_swell_when_turned_into_voids(swell: float, voids: float, load_factor: float) -> None:
    """Voids are s/(1+s) and the load factor 1/(1+s)."""
    soil = SoilFactors.given(swell / 100, 0.0)
    assert soil.voids * 100 == pytest.approx(voids, abs=0.05)
    assert soil.load_factor == pytest.approx(load_factor, abs=0.0005)


def test_japanese_exam_when_fill_is_made_up() -> None:
    """J1, civil-works examination on the guideline's page: L 1.25, C 0.90; fill of 100 m³ and bank of 100 m³."""
    soil = SoilFactors.given(0.25, 0.10)
    bank = 100 / soil.compacted_per_bank
    assert bank == pytest.approx(111.1, abs=0.05)
    assert bank * soil.loose_per_bank == pytest.approx(138.9, abs=0.05)
    assert 100 * soil.loose_per_bank == pytest.approx(125, abs=1e-9)
    assert 100 * soil.compacted_per_bank == pytest.approx(90, abs=1e-9)
    assert (soil.swell, soil.shrink) == (soil_factors("loam").swell, soil_factors("loam").shrink)


def test_japanese_exam_when_borrow_is_needed() -> None:
    """J2, same page: 7,000 m³ of bank gravelly soil (C 0.90) leave a fill of 10,000 m³ short by 3,700; from borrow
    with C 0.85 that is 4,350 m³, printed rounded to 10.
    """
    made = 7000 * factor_row("bulking", "mlit-gravelly-compacted").value
    assert made == pytest.approx(6300, abs=1e-9)
    borrow = (10_000 - made) / SoilFactors.given(0.2, 0.15).compacted_per_bank
    assert borrow == pytest.approx(4350, abs=5)
    assert borrow == pytest.approx(4352.9, abs=0.05)


def test_estimating_text_when_clay_swells() -> None:
    """D1, Dagostino, Estimating in Building Construction, example 9-2: 1,000 bank yards of dense clay at 30 % swell
    are 1,300 loose; in trucks of 7 cubic yards 186 loads.
    """
    loose = 1000 * SoilFactors.given(0.30, 0.0).loose_per_bank
    assert loose == pytest.approx(1300, abs=0.5)
    assert loose / 7 == pytest.approx(185.7, abs=0.05)
    assert math.ceil(loose / 7) == 186


def test_estimating_text_when_fill_is_compacted() -> None:
    """D2, example 9-3: 500 compacted yards of sand and gravel at C 0.95 need 526 in the bank (printed); at 15 % swell
    605.3 loose and 87 loads of 7 (derived).
    """
    soil = SoilFactors.given(0.15, 0.05)
    bank = 500 / soil.compacted_per_bank
    assert bank == pytest.approx(526, abs=0.5)
    assert bank * soil.loose_per_bank == pytest.approx(605.3, abs=0.05)
    assert math.ceil(bank * soil.loose_per_bank / 7) == 87


def test_estimating_text_when_earth_swells() -> None:
    """D3, example 9-12: 100 bank yards at 15 % swell are 115 loose."""
    assert 100 * SoilFactors.given(0.15, 0.0).loose_per_bank == pytest.approx(115, abs=0.5)


# AASHTO LRFD Table 3.5.1-1 and ASCE 7 Table C3.1-2 (from memory, high confidence), and Dagostino chapter 9 as quoted at
# civilengineeringdegrees.net, August 2012: material, lb/ft3, kg/m3.
UNIT_WEIGHTS = [
    ("compacted-sand-silt-clay", 120, 1922),
    ("loose-sand-silt-gravel", 100, 1602),
    ("soft-clay", 100, 1602),
    ("rolled-gravel", 140, 2243),
    ("clay-dry", 63, 1009),
    ("clay-damp", 110, 1762),
    ("clay-and-gravel-dry", 100, 1602),
    ("silt-moist-loose", 78, 1249),
    ("silt-moist-packed", 96, 1538),
    ("silt-flowing", 108, 1730),
    ("sand-and-gravel-dry-loose", 100, 1602),
    ("sand-and-gravel-dry-packed", 110, 1762),
    ("sand-and-gravel-wet", 120, 1922),
    ("gravel-dry", 104, 1666),
    ("undisturbed-earth", 100, 1602),
    ("undisturbed-rock", 150, 2403),
]


@pytest.mark.parametrize(("material", "pounds", "kilograms"), UNIT_WEIGHTS)
def test_unit_weight_when_asked_for(material: str, pounds: float, kilograms: float) -> None:
    """A density is the table's in both units, and two ways of converting it agree."""
    assert factor_row("densities", material).value == pounds
    assert density(material) == pytest.approx(kilograms, abs=0.5)
    assert convert(pounds, "lb/ft3", "kg/m3") == pytest.approx(density(material), rel=1e-12)
