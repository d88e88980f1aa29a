"""Every row of the tables for timber, steel, fabric, stone and labour against a copy typed by hand from its source."""

import math

import pytest

from spadework.factors import factor_row, load_table

# PS 20, dressed sizes: thickness and width in inches, dry then green (2x4 and 4x4 dry read where quoted, the rest from
# memory); a timber of nominal 6 in may be half an inch under, and is sold green.
LUMBER = {
    "2x4": ((1 + 1 / 2, 1 + 9 / 16), (3 + 1 / 2, 3 + 9 / 16)),
    "2x6": ((1 + 1 / 2, 1 + 9 / 16), (5 + 1 / 2, 5 + 5 / 8)),
    "4x4": ((3 + 1 / 2, 3 + 9 / 16), (3 + 1 / 2, 3 + 9 / 16)),
    "4x6": ((3 + 1 / 2, 3 + 9 / 16), (5 + 1 / 2, 5 + 5 / 8)),
    "6x6": ((5 + 1 / 2, 5 + 1 / 2), (5 + 1 / 2, 5 + 1 / 2)),
}
# EN 1313-1, from memory: permitted deviations of sawn sizes. [mm]
SAWN = {"sawn-to-100": (-1, 0, 3), "sawn-over-100": (-2, 0, 4)}

# ASTM A615: pounds per foot, kilograms per metre, diameter in inches. EN 10080, from memory: kg/m, diameter in mm.
REBAR_INCH = {"no-3": (0.376, 0.560, 0.375), "no-4": (0.668, 0.994, 0.500), "no-5": (1.043, 1.552, 0.625)}
REBAR_METRIC = {"10-mm": (0.617, 10), "12-mm": (0.888, 12), "16-mm": (1.58, 16)}

# Common practice, no source: inches (low, usual, high) and the round number of millimetres.
FIXINGS = {
    "lap": (4, 6, 8, 150),
    "embedment": (4, 4, 5, 100),
    "bar-length": (24, 24, 36, 600),
    "long-bar-length": (36, 48, 48, 1200),
    "bar-spacing": (36, 48, 48, 1200),
    "bar-anchor": (8, 12, 18, 300),
    "joint-stagger": (16, 24, 48, 600),
    "least-piece": (16, 24, 36, 600),
    "screw-length": (4, 4, 6, 100),
    "screw-spacing": (16, 24, 32, 600),
    "lag-length": (6, 6, 8, 150),
    "trench-room": (2, 4, 6, 100),
    "kerf": (1 / 16, 1 / 8, 3 / 16, 3),
}
STOCK = {f"metric-{mm}": (mm / 1000, "m") for mm in (2400, 3000, 3600, 4200, 4800)} | {
    f"feet-{feet}": (feet, "ft") for feet in (8, 10, 12, 16)
}

# Deepest loose lift. Maryland SHA 210: 6 in. TM 5-818-4: 4 in by hand. The rest as transcribed from the UFC: 150, 200,
# 300 and 200 mm, of which no more than the 150 mm of Maryland is used.
LIFTS = {
    "hand-tamper": (100, 100, 100, "mm"),
    "mechanical-tamper": (6, 6, 6, "in"),
    "power-rammer": (100, 150, 150, "mm"),
    "plate-light": (100, 150, 200, "mm"),
    "plate-heavy": (100, 150, 300, "mm"),
    "walk-behind-roller": (100, 150, 200, "mm"),
}

# FHWA NHI-07-092 and AASHTO M 288, from memory: overlap by CBR, the middle of the range where there is one. [mm]
FABRIC = {
    "overlap-firm": (300, 375, 450, "mm"),
    "overlap-soft": (600, 800, 1000, "mm"),
    "overlap-very-soft": (1000, 1000, 1000, "mm"),
    "overlap-roll-end": (1000, 1000, 1000, "mm"),
    "staple-spacing": (0.5, 1, 1, "m"),
    "roll-width": (1, 2, 4.5, "m"),
    "roll-length": (10, 25, 100, "m"),
    "roll-width-feet": (3, 6, 15, "ft"),
    "roll-length-feet": (50, 100, 300, "ft"),
}

# Loose to order for one compacted. Graded base: 1.20/0.90 and 1.20/1.00 of the Japanese standard. Sand: the US Army's
# own cell, and 1.20/0.90. Topsoil: Spon's 20 %. Clean stone and waste: common practice, no source.
STONE = {
    "clean-stone": (1.05, 1.10, 1.15, "m3/m3"),
    "graded-base": (1.20, 1.333, 1.333, "m3/m3"),
    "sand": (1.17, 1.17, 1.333, "m3/m3"),
    "topsoil": (1.20, 1.20, 1.20, "m3/m3"),
    "waste": (1.00, 1.05, 1.10, "m3/m3"),
    "sold-by-m3": (0.1, 0.1, 1, "m3"),
    "sold-by-yd3": (0.25, 0.5, 1, "yd3"),
    "sold-by-t": (0.02, 0.1, 1, "t"),
}

# DPWH labour outputs. Later sheet: cubic metres per man-day of 8 h and per hour. Older sheet: per hour.
DPWH_LATER = {
    "dig-loam": (5.17, 0.6463),
    "dig-clay": (4.15, 0.5188),
    "dig-rock": (2.58, 0.3225),
    "backfill": (8.30, 1.0375),
    "spread-tamp-grade": (14.21, 1.7763),
    "gravel-fill-by-hand": (1.36, 0.1700),
    "place-gravel": (4.00, 0.5000),
    "clear-brush": (272, 34),
    "clear-trees": (136, 17),
}
DPWH_OLDER = {
    "dig-loam": 0.76,
    "dig-clay": 0.61,
    "dig-rock": 0.38,
    "backfill": 1.22,
    "spread-tamp-grade": 2.09,
    "clear-brush": 40,
    "clear-trees": 20,
}
# DPWH equipment sheet, cubic metres per man-day: structure excavation 1.5, canal excavation 3.0, backfilling 2.0,
# spreading aggregate subbase 2.5.
DPWH_SLOW = {
    "dig-loam": 3.0,
    "dig-clay": 3.0,
    "dig-rock": 1.5,
    "backfill": 2.0,
    "spread-tamp-grade": 2.5,
    "place-gravel": 2.5,
}
# ILO/ASIST Technical Brief 2, from memory: cubic metres per worker-day.
ILO = {"load": 8.5, "unload": 10, "spread": 13.5} | {
    f"barrow-{to}": norm for to, norm in ((20, 8.5), (40, 7.0), (60, 6.5), (80, 5.5), (100, 5.0), (150, 4.5))
}
# Common practice, no source: low, usual, high.
OWN_RATES = {
    "lay-frame": (1, 2, 4, "m/h"),
    "saw-cut": (6, 10, 20, "1/h"),
    "lay-fabric": (15, 30, 60, "m2/h"),
    "set-out-stake": (2, 4, 8, "1/h"),
}


def spans(table: str) -> dict[str, tuple[float, float, float, str]]:
    """Low, value, high and unit of every row of a table."""
    return {row.name: (row.low, row.value, row.high, row.unit) for row in load_table(table)}


def test_lumber_row_when_walked() -> None:
    """Every dressed size is that of PS 20, dry with green as the high; every sawn deviation that of EN 1313-1."""
    expected: dict[str, tuple[float, float, float, str]] = {
        name: (low, value, high, "mm") for name, (low, value, high) in SAWN.items()
    }
    for nominal, faces in LUMBER.items():
        for face, (dry, green) in zip(("thickness", "width"), faces, strict=True):
            expected[f"{nominal}-{face}"] = (dry, dry, green, "in")
    assert spans("lumber") == expected


def test_courses_when_six_by_six() -> None:
    """Three courses of 6x6 are 16.5 in high, not 18."""
    assert 3 * factor_row("lumber", "6x6-width").value == 16.5


def test_rebar_row_when_walked() -> None:
    """Every bar weighs what its standard prints, and the two units of ASTM A615 agree to a thousandth."""
    found = {row.name: row for row in load_table("rebar")}
    assert found.keys() == REBAR_INCH.keys() | REBAR_METRIC.keys()
    for name, (pounds, kilograms, diameter) in REBAR_INCH.items():
        row = found[name]
        assert (row.low, row.value, row.high, row.unit) == (pounds, pounds, pounds, "lb/ft")
        assert (row.extra["kg_per_m"], row.extra["diameter_in"]) == (kilograms, diameter)
        assert pounds * 0.45359237 / 0.3048 == pytest.approx(kilograms, abs=0.001)
    for name, (kilograms, diameter) in REBAR_METRIC.items():
        row = found[name]
        assert (row.low, row.value, row.high, row.unit) == (kilograms, kilograms, kilograms, "kg/m")
        assert row.extra["diameter_mm"] == diameter


@pytest.mark.parametrize("name", REBAR_INCH)
def test_rebar_when_steel_weighs_490_pounds_per_cubic_foot(name: str) -> None:
    """The mass follows from a density of 490 lb/ft3 and the nominal diameter, to 0.001 lb/ft."""
    pounds, _, diameter = REBAR_INCH[name]
    assert 490 * math.pi / 4 * (diameter / 12) ** 2 == pytest.approx(pounds, abs=0.0011)


@pytest.mark.parametrize("name", REBAR_METRIC)
def test_rebar_when_steel_weighs_7850_kilograms_per_cubic_metre(name: str) -> None:
    """The mass follows from a density of 7850 kg/m3 and the nominal diameter, to a third of a per cent."""
    kilograms, diameter = REBAR_METRIC[name]
    assert 7850 * math.pi / 4 * (diameter / 1000) ** 2 == pytest.approx(kilograms, rel=0.0033)


def test_fixings_row_when_walked() -> None:
    """Every measure of the frame is the common practice typed here, in inches and in round millimetres."""
    found = {row.name: (row.low, row.value, row.high, row.extra["metric"]) for row in load_table("fixings")}
    assert found == FIXINGS
    assert {row.unit for row in load_table("fixings")} == {"in"}
    assert {row.status for row in load_table("fixings")} == {"common practice, no source"}


def test_fixings_when_metric() -> None:
    """The round millimetres lie within a twentieth of the inches, save for the kerf, which is 3 mm for 1/8 in."""
    for name, (_, inches, _, millimetres) in FIXINGS.items():
        assert millimetres == pytest.approx(inches * 25.4, rel=0.06), name


def test_stock_row_when_walked() -> None:
    """Every length that is offered to somebody who names none is typed here."""
    assert {row.name: (row.value, row.unit) for row in load_table("stock")} == STOCK
    assert all(row.low == row.value == row.high for row in load_table("stock"))


@pytest.mark.parametrize(("table", "expected"), [("lifts", LIFTS), ("fabric", FABRIC), ("stone", STONE)])
def test_row_when_walked(table: str, expected: dict[str, tuple[float, float, float, str]]) -> None:
    """Every row has the low, value, high and unit typed from its source."""
    assert spans(table) == expected


def test_stone_factor_when_worked_from_soil_factors() -> None:
    """Graded base is loose 1.20 over compacted 0.90, to the three places it is given in."""
    assert factor_row("stone", "graded-base").value == pytest.approx(1.20 / 0.90, abs=0.0005)
    assert factor_row("stone", "graded-base").low == pytest.approx(1.20 / 1.00)


def test_rates_row_when_walked() -> None:
    """Every rate is the one typed from its sheet, with the older and the slower sheet as its range."""
    found = {row.name: row for row in load_table("rates")}
    named = DPWH_LATER.keys() | ILO.keys() | OWN_RATES.keys() | {"dig-trench", "dig-common-earth"}
    assert found.keys() == named
    for name, (per_day, per_hour) in DPWH_LATER.items():
        assert found[name].value == per_hour, name
        assert per_day / 8 == pytest.approx(per_hour, abs=0.0001), name
    for name, older in DPWH_OLDER.items():
        assert found[name].high == older, name
    for name, slow in DPWH_SLOW.items():
        assert found[name].low == slow / 8, name
    for name, norm in ILO.items():
        assert (found[name].low, found[name].value, found[name].high, found[name].unit) == (norm, norm, norm, "m3/day")
    for name, (low, usual, high, unit) in OWN_RATES.items():
        assert (found[name].low, found[name].value, found[name].high, found[name].unit) == (low, usual, high, unit)
    trench = found["dig-trench"]
    assert (trench.low, trench.value, trench.high) == (1.5 / 8, 3.0 / 8, DPWH_LATER["dig-loam"][1])
    assert found["place-gravel"].high == DPWH_LATER["spread-tamp-grade"][1]


@pytest.mark.parametrize("name", DPWH_OLDER)
def test_rate_when_two_editions_are_compared(name: str) -> None:
    """The later sheet is 0.85 of the older one, row by row, which confirms both readings of each."""
    assert DPWH_LATER[name][1] / DPWH_OLDER[name] == pytest.approx(0.85, abs=0.0025)


@pytest.mark.xfail(reason="printed 1.00 m3 a day for common earth, below the sheet's own clay and rock", strict=True)
def test_rate_when_common_earth_is_compared_with_its_own_sheet() -> None:
    """Common earth digs between clay and sand, as its name says; the printed row does not."""
    row = factor_row("rates", "dig-common-earth")
    assert DPWH_LATER["dig-clay"][1] <= row.value <= DPWH_LATER["dig-loam"][1]


def test_rate_when_flagged_is_not_used() -> None:
    """The row that disagrees with its own sheet stands in the table for all to see, and says it is not used."""
    row = factor_row("rates", "dig-common-earth")
    assert (row.value, row.extra["used"]) == (0.125, False)
    assert "not used" in row.where
