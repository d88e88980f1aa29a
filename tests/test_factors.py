"""Every row of every factor table against a copy typed by hand from its source, and the ways of asking for a row."""

import math
import tomllib
from importlib import resources

import pytest

from spadework import factors
from spadework.errors import InputError, Source
from spadework.factors import (
    SoilFactors,
    _rows,
    container_volume,
    density,
    factor_row,
    load_table,
    soil_factors,
    soil_kinds,
)

# Typed from the printed tables: (low, likely, high) of loose and of compacted volume, both per volume in the bank.
# army: US Army FM 5-434, Table 1-1. mlit: Japanese ministry's cost-estimating standard (one number each).
# road: Japan Road Association guideline (ranges; the likely value is their middle). The last three from memory.
BULKING = {
    "army-sand": ((1.11, 1.11, 1.11), (0.95, 0.95, 0.95)),
    "army-loam": ((1.25, 1.25, 1.25), (0.90, 0.90, 0.90)),
    "army-clay": ((1.43, 1.43, 1.43), (0.90, 0.90, 0.90)),
    "army-rock": ((1.50, 1.50, 1.50), (1.30, 1.30, 1.30)),
    "army-coral": ((1.50, 1.50, 1.50), (1.30, 1.30, 1.30)),
    "mlit-gravelly": ((1.20, 1.20, 1.20), (0.90, 0.90, 0.90)),
    "mlit-sand": ((1.20, 1.20, 1.20), (0.90, 0.90, 0.90)),
    "mlit-cohesive": ((1.25, 1.25, 1.25), (0.90, 0.90, 0.90)),
    "mlit-boulders": ((1.20, 1.20, 1.20), (1.00, 1.00, 1.00)),
    "mlit-bouldery-1": ((1.25, 1.25, 1.25), (0.96, 0.96, 0.96)),
    "mlit-bouldery-2": ((1.32, 1.32, 1.32), (1.04, 1.04, 1.04)),
    "mlit-bouldery-3": ((1.39, 1.39, 1.39), (1.11, 1.11, 1.11)),
    "mlit-soft-rock-1": ((1.30, 1.30, 1.30), (1.15, 1.15, 1.15)),
    "mlit-soft-rock-2": ((1.50, 1.50, 1.50), (1.20, 1.20, 1.20)),
    "mlit-medium-rock": ((1.60, 1.60, 1.60), (1.25, 1.25, 1.25)),
    "mlit-hard-rock": ((1.65, 1.65, 1.65), (1.40, 1.40, 1.40)),
    "road-hard-rock": ((1.65, 1.825, 2.00), (1.30, 1.40, 1.50)),
    "road-medium-rock": ((1.50, 1.60, 1.70), (1.20, 1.30, 1.40)),
    "road-boulders": ((1.10, 1.15, 1.20), (0.95, 1.00, 1.05)),
    "road-gravel": ((1.10, 1.15, 1.20), (0.85, 0.95, 1.05)),
    "road-gravelly": ((1.10, 1.20, 1.30), (0.85, 0.925, 1.00)),
    "road-cemented-gravelly": ((1.25, 1.35, 1.45), (1.10, 1.20, 1.30)),
    "road-sand": ((1.10, 1.15, 1.20), (0.85, 0.90, 0.95)),
    "road-sandy": ((1.20, 1.25, 1.30), (0.85, 0.90, 0.95)),
    "road-cohesive": ((1.20, 1.325, 1.45), (0.85, 0.90, 0.95)),
}
BULKING_FROM_MEMORY = {"army-loam", "army-clay", "army-rock", "army-coral", "army-sand"} | {
    "road-sand",
    "road-sandy",
    "road-cohesive",
}

# Typed from AASHTO LRFD Table 3.5.1-1 and ASCE 7 Table C3.1-2 (both from memory), and Dagostino chapter 9. [lb/ft3]
# The stone of 20 mm is common practice: dry gravel, within dry sand and gravel loose to packed.
DENSITIES = {
    "compacted-sand-silt-clay": (120, 120, 120),
    "loose-sand-silt-gravel": (100, 100, 100),
    "soft-clay": (100, 100, 100),
    "rolled-gravel": (140, 140, 140),
    "clay-dry": (63, 63, 63),
    "clay-damp": (110, 110, 110),
    "clay-and-gravel-dry": (100, 100, 100),
    "silt-moist-loose": (78, 78, 78),
    "silt-moist-packed": (96, 96, 96),
    "silt-flowing": (108, 108, 108),
    "sand-and-gravel-dry-loose": (100, 100, 100),
    "sand-and-gravel-dry-packed": (110, 110, 110),
    "sand-and-gravel-wet": (120, 120, 120),
    "gravel-dry": (104, 104, 104),
    "undisturbed-earth": (100, 100, 100),
    "undisturbed-rock": (150, 150, 150),
    "clean-stone-20": (100, 104, 110),
}

# Typed from the sources that the rows name: coefficient, unit, basis, greatest. Those of the Committee's section 3.5,
# the older US orders, the textbook classes and the construction rule are from memory.
TOLERANCES = {
    "relative-first-1": (0.5, "mm", "sqrt-km", None),
    "relative-first-2": (0.7, "mm", "sqrt-km", None),
    "relative-second-1": (1.0, "mm", "sqrt-km", None),
    "relative-second-2": (1.3, "mm", "sqrt-km", None),
    "relative-third": (2.0, "mm", "sqrt-km", None),
    "army-second-order": (8.4, "mm", "sqrt-km", None),
    "army-rejection": (9, "mm", "sqrt-km", None),
    "australian-first-order": (4, "mm", "sqrt-km", None),
    "usgs-gauging": (0.003, "ft", "sqrt-set-ups", 0.015),
    "section-first-1": (3, "mm", "sqrt-km", None),
    "section-first-2": (4, "mm", "sqrt-km", None),
    "section-second-1": (6, "mm", "sqrt-km", None),
    "section-second-2": (8, "mm", "sqrt-km", None),
    "section-third": (12, "mm", "sqrt-km", None),
    "loop-first-1": (4, "mm", "sqrt-km", None),
    "loop-first-2": (5, "mm", "sqrt-km", None),
    "loop-second-1": (6, "mm", "sqrt-km", None),
    "loop-second-2": (8, "mm", "sqrt-km", None),
    "loop-third": (12, "mm", "sqrt-km", None),
    "us-first-order": (0.017, "ft", "sqrt-miles", None),
    "us-second-order": (0.035, "ft", "sqrt-miles", None),
    "us-third-order": (0.05, "ft", "sqrt-miles", None),
    "rough": (0.4, "ft", "sqrt-miles", None),
    "ordinary": (0.1, "ft", "sqrt-miles", None),
    "accurate": (0.05, "ft", "sqrt-miles", None),
    "precise": (0.02, "ft", "sqrt-miles", None),
    "construction": (0.02, "ft", "sqrt-set-ups", None),
}

# Common practice, no source: trays of 2 to 6 cubic feet. [ft3]
CONTAINERS = {
    "barrow": (2, 3, 6),
    "large-barrow": (6, 6, 6),
    "rubble-sack": (0.8, 1.0, 1.4),
    "bulk-bag": (21.0, 25.0, 32.0),
    "small-skip": (108.0, 108.0, 108.0),
    "large-skip": (162.0, 216.0, 216.0),
    "tipper-truck": (216.0, 270.0, 378.0),
}


def test_bulking_row_when_walked() -> None:
    """Every row of the bulking table is the number typed from its source, and no row is left unchecked."""
    expected = {
        f"{name}-{quantity}": numbers
        for name, pair in BULKING.items()
        for quantity, numbers in zip(("loose", "compacted"), pair, strict=True)
    }
    found = {row.name: (row.low, row.value, row.high) for row in load_table("bulking")}
    assert found.keys() == expected.keys()
    for name, numbers in expected.items():
        assert found[name] == pytest.approx(numbers, abs=1e-12), name


def test_bulking_row_when_from_memory() -> None:
    """What was not read in a source says so, row by row, and nothing else does."""
    marked = {row.name.rpartition("-")[0] for row in load_table("bulking") if "from memory" in row.status}
    assert marked == BULKING_FROM_MEMORY


def test_density_row_when_walked() -> None:
    """Every row of the densities is the number typed from its source, in pounds per cubic foot."""
    assert {row.name: (row.low, row.value, row.high) for row in load_table("densities")} == DENSITIES
    assert {row.unit for row in load_table("densities")} == {"lb/ft3"}


def test_tolerance_row_when_walked() -> None:
    """Every misclosure rule has the coefficient, unit, basis and limit typed from its source, and no range."""
    found = {
        row.name: (row.value, row.unit, row.extra["basis"], row.extra.get("most")) for row in load_table("tolerances")
    }
    assert found == TOLERANCES
    assert all(row.low == row.value == row.high for row in load_table("tolerances"))


def test_container_row_when_walked() -> None:
    """Every container holds what common practice says, marked as having no source."""
    assert {row.name: (row.low, row.value, row.high) for row in load_table("containers")} == CONTAINERS
    assert {row.status for row in load_table("containers")} == {"common practice, no source"}


@pytest.mark.parametrize("table", factors.TABLES)
def test_row_when_any(table: str) -> None:
    """Every row says where its number comes from and how it was got, in words that the project uses."""
    known = ("read in the source", "read where it is quoted", "from memory", "common practice, no source")
    for row in load_table(table):
        assert row.status.startswith(known), row.name
        assert len(row.source) > 8, row.name
        assert len(row.where) > 8, row.name
        assert row.low <= row.value <= row.high, row.name


def test_tables_when_listed() -> None:
    """No table lies in the package without being listed, and so without being walked by these tests."""
    files = {entry.name for entry in resources.files("spadework.factors").iterdir() if entry.name.endswith(".toml")}
    assert files >= {f"{name}.toml" for name in factors.TABLES}
    assert {row.name for row in load_table("tolerances")} >= {factors.DEFAULT_TOLERANCE}
    assert {row.name for row in load_table("containers")} >= {factors.DEFAULT_BARROW}


@pytest.mark.parametrize(
    ("metric", "imperial"),
    [
        pytest.param("loop-third", 0.0499, id="12 mm"),
        pytest.param("army-second-order", 0.0350, id="8.4 mm"),
        pytest.param("australian-first-order", 0.0166, id="4 mm"),
    ],
)
def test_tolerance_when_turned_into_feet_and_miles(metric: str, imperial: float) -> None:
    """A rule in mm per root km is the same as one in feet per root mile: sqrt(1.609344)/304.8 by definition."""
    row = factor_row("tolerances", metric)
    assert row.value * math.sqrt(1.609344) / 304.8 == pytest.approx(imperial, abs=5e-5)


def test_tolerance_when_army_and_older_order_are_compared() -> None:
    """The second and third orders seen in metres agree with those remembered in feet to a thousandth of a foot."""
    for metric, feet in (("army-second-order", "us-second-order"), ("third-order", "us-third-order")):
        turned = factor_row("tolerances", metric).value * math.sqrt(1.609344) / 304.8
        assert turned == pytest.approx(factor_row("tolerances", feet).value, abs=0.001)


@pytest.mark.parametrize(
    ("material", "expected"),
    [
        ("compacted-sand-silt-clay", 1922),
        ("soft clay", 1602),
        ("rolled-gravel", 2243),
        ("clay-dry", 1009),
        ("clay-damp", 1762),
        ("silt-moist-loose", 1249),
        ("silt-moist-packed", 1538),
        ("silt-flowing", 1730),
        ("gravel-dry", 1666),
        ("undisturbed rock", 2403),
    ],
)
def test_density_when_asked_for(material: str, expected: float) -> None:
    """A density comes in kilograms per cubic metre: 1 lb/ft3 is 16.0185 kg/m3 by the definitions of pound and foot."""
    assert density(material) == pytest.approx(expected, abs=0.5)


def test_container_volume_when_asked_for() -> None:
    """A large barrow of 6 cubic feet makes four and a half loads to the cubic yard (27 / 6)."""
    assert 0.9144**3 / container_volume("large-barrow") == pytest.approx(4.5, rel=1e-12)
    assert container_volume() == pytest.approx(3 * 0.3048**3, rel=1e-12)


# Likely, low and high of L (loose) and C (compacted), worked by hand from the copies above: likely is the mean of the
# government tables, the range what they span, or the guideline's range where they agree on one number.
SOILS = {
    "loam": ((1.25, 1.20, 1.30), (0.90, 0.85, 0.95)),
    "clay": ((1.34, 1.25, 1.43), (0.90, 0.85, 0.95)),
    "sand": ((1.155, 1.11, 1.20), (0.925, 0.90, 0.95)),
    "gravelly": ((1.20, 1.10, 1.30), (0.90, 0.85, 1.00)),
    "gravel": ((1.15, 1.10, 1.20), (0.95, 0.85, 1.05)),
    "cemented-gravel": ((1.35, 1.25, 1.45), (1.20, 1.10, 1.30)),
    "boulders": ((1.20, 1.10, 1.20), (1.00, 0.95, 1.05)),
    "bouldery": ((1.32, 1.25, 1.39), (3.11 / 3, 0.96, 1.11)),
    "soft-rock": ((1.40, 1.30, 1.50), (1.175, 1.15, 1.20)),
    "medium-rock": ((1.60, 1.50, 1.70), (1.25, 1.20, 1.40)),
    "hard-rock": ((1.65, 1.65, 2.00), (1.40, 1.30, 1.50)),
    "rock": ((1.575, 1.50, 1.65), (1.35, 1.30, 1.40)),
    "coral": ((1.50, 1.50, 1.50), (1.30, 1.30, 1.30)),
}


@pytest.mark.parametrize("kind", SOILS)
def test_soil_factors_when_kind_is_known(kind: str) -> None:
    """Each kind has the likely value and the range that its tables give, worked by hand."""
    (loose, loose_low, loose_high), (compacted, compacted_low, compacted_high) = SOILS[kind]
    soil = soil_factors(kind)
    assert (soil.swell, soil.swell_low, soil.swell_high) == pytest.approx(
        (loose - 1, loose_low - 1, loose_high - 1), abs=1e-6
    )
    assert (soil.shrink, soil.shrink_low, soil.shrink_high) == pytest.approx(
        (1 - compacted, 1 - compacted_high, 1 - compacted_low), abs=1e-6
    )
    assert soil.loose_per_bank == pytest.approx(loose, abs=1e-6)
    assert soil.compacted_per_bank == pytest.approx(compacted, abs=1e-6)
    assert soil.source


def test_soil_kinds_when_listed() -> None:
    """No kind of soil is left without an expected value."""
    assert set(soil_kinds()) == set(SOILS)


@pytest.mark.parametrize(
    ("written", "kind"),
    [
        ("Common Earth", "loam"),
        ("sandy soil", "sand"),
        (" LOAM ", "loam"),
        ("gravelly_soil", "gravelly"),
        ("stony", "bouldery"),
    ],
)
def test_soil_factors_when_written_freely(written: str, kind: str) -> None:
    """Capitals, spaces and other names of a kind do not matter."""
    assert soil_factors(written) == soil_factors(kind)


def test_soil_factors_when_kind_is_unknown() -> None:
    """An unknown kind is answered with its place, the nearest kind and the list of kinds."""
    with pytest.raises(InputError) as caught:
        soil_factors("lome", source=Source("site.toml", 31, "kind"))
    message = str(caught.value)
    assert message.startswith("site.toml line 31, column kind: “lome”")
    assert "did you mean loam?" in message.lower()
    assert "hard-rock" in message


def test_factor_row_when_name_is_unknown() -> None:
    """An unknown rule is answered with the nearest one, also when that is another name of a row."""
    with pytest.raises(InputError, match=r"(?i)did you mean third-order"):
        factor_row("tolerances", "thrid-order")


def test_factor_row_when_asked_by_other_name() -> None:
    """The third order is the Committee's rule for loops, the yard rule that of simple construction levelling."""
    assert factor_row("tolerances", "third order").name == "loop-third"
    assert factor_row("tolerances", "Yard").name == "construction"


def test_load_table_when_there_is_none() -> None:
    """A table that does not exist is a mistake of the program, and says which there are."""
    with pytest.raises(ValueError, match="no table 'prices'; there are bulking"):
        load_table("prices")


def test_soil_factors_when_given() -> None:
    """A user's own swell and shrink have no range and give the volumes of their definitions."""
    soil = SoilFactors.given(0.25, 0.10)
    assert (soil.swell_low, soil.swell_high, soil.shrink_low, soil.shrink_high) == (0.25, 0.25, 0.10, 0.10)
    assert soil.load_factor == pytest.approx(0.8)
    assert soil.voids == pytest.approx(0.2)


@pytest.mark.parametrize(("swell", "shrink"), [(-1.0, 0.1), (0.2, 1.0), (math.nan, 0.1), (0.2, math.nan)])
def test_soil_factors_when_impossible(swell: float, shrink: float) -> None:
    """A soil that vanishes when dug or rammed, or whose factor is no number, is refused."""
    with pytest.raises(ValueError, match="does not hold"):
        SoilFactors.given(swell, shrink)


BROKEN_ROWS = {
    "lacks source": 'name="a"\nvalue=1.0\nunit="m"\nlow=1.0\nhigh=1.0\nwhere="w"\nstatus="s"\n',
    "outside": 'name="a"\nvalue=2.0\nunit="m"\nlow=0.0\nhigh=1.0\nsource="s"\nwhere="w"\nstatus="s"\n',
    "twice": "[[row]]\n".join(
        ['name="a"\nvalue=1.0\nunit="m"\nlow=0.0\nhigh=1.0\nsource="s"\nwhere="w"\nstatus="s"\n'] * 2
    ),
}


@pytest.mark.parametrize("wrong", BROKEN_ROWS)
def test_load_table_when_row_is_broken(wrong: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A row without a source, outside its own range, or there twice, stops the table from loading."""
    monkeypatch.setattr(_rows, "read_file", lambda _: tomllib.loads("[[row]]\n" + BROKEN_ROWS[wrong]))
    with pytest.raises(ValueError, match=wrong):
        _rows.load_table.__wrapped__("bulking")
