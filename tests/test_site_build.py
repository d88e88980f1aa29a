"""The tables of a site file about what is built: what they choose, and how wrong values are answered."""

from __future__ import annotations

from pathlib import Path

import pytest

from spadework.build import BuildOptions
from spadework.errors import InputError
from spadework.factors import factor_row
from spadework.site import load_site
from spadework.units import LengthUnit

HEAD = """[site]
units = "{units}"
datum = {{ point = "BM1", level = "100 m" }}

[[readings]]
file = "shots.csv"

[pad]
size = ["3 m", "4 m"]
edge = {{ kind = "timber" }}
"""


def options(folder: Path, text: str, units: str = "m") -> BuildOptions:
    """What a site file with some more tables chooses."""
    (folder / "shots.csv").write_text("P1,0,0,1.2\n", encoding="utf-8")
    (folder / "site.toml").write_text(HEAD.format(units=units) + text, encoding="utf-8")
    chosen = load_site(folder).build
    assert chosen is not None
    return chosen


@pytest.mark.parametrize("units", ["m", "ft", "ft-in"])
def test_tables_when_left_out(tmp_path: Path, units: str) -> None:
    """Without the tables everything is common practice in the units of the site, and no price is there."""
    found = options(tmp_path, "", units)
    assert found == BuildOptions.usual(LengthUnit(units))
    assert found.prices == {}
    assert found.crew.wage is None


def test_tables_when_everything_is_chosen(tmp_path: Path) -> None:
    """Every key of the four tables arrives, in metres."""
    found = options(
        tmp_path,
        """
[frame]
lay = "flat"
embedment = "120 mm"
lap = "200 mm"
stagger = "800 mm"
least-piece = "500 mm"
bar = "no-5"
bar-lengths = ["900 mm", "1.5 m"]
bar-spacing = "1 m"
bar-anchor = "400 mm"
screw-length = "8 in"
screw-spacing = "500 mm"
lag-length = "200 mm"
trench-room = "150 mm"

[materials]
stock = [{ length = "3.6 m", price = 18.5, available = 6 }, { length = "12 ft" }]
kerf = "2 mm"
trim = "10 mm"
compactor = "hand-tamper"
ordered = { clean-stone-20 = "1.5 m3" }
sold-by = { clean-stone-20 = "1 t", sand = "0.25 m3" }
fabric = false
roll = ["1.5 m", "20 m"]
overlap = "300 mm"
currency = "EUR"

[prices]
bar-900 = 2.5
screw = 0

[crew]
people = 2
hours-per-day = 6.5
wage = 15
haul = "35 m"
rates = { dig-loam = "0.9 m3/h", lay-frame = 3, barrow-40 = "1 m3/h", saw-cut = "12 /h", lay-fabric = "200 m2/day" }
machine = { name = "digger", dig = "3 m3", hire = 160.0 }
""",
    )
    edge = found.edge
    assert edge.flat
    assert (edge.embedment, edge.lap, edge.stagger, edge.least_piece) == pytest.approx((0.12, 0.2, 0.8, 0.5))
    assert (edge.bar, edge.bar_lengths) == ("no-5", pytest.approx((0.9, 1.5)))
    assert (edge.bar_spacing, edge.bar_anchor) == pytest.approx((1.0, 0.4))
    assert (edge.screw_length, edge.screw_spacing, edge.lag_length, edge.trench_room) == pytest.approx(
        (0.2032, 0.5, 0.2, 0.15)
    )
    assert [(one.length, one.price, one.available) for one in found.stock] == [
        (pytest.approx(3.6), 18.5, 6),
        (pytest.approx(3.6576), None, None),
    ]
    assert (found.kerf, found.trim, found.currency) == (pytest.approx(0.002), pytest.approx(0.01), "EUR")
    assert found.stone.compactor == "hand-tamper"
    assert found.stone.ordered == {"clean-stone-20": pytest.approx(1.5)}
    assert found.stone.sold_by == {"clean-stone-20": (1.0, "t"), "sand": (pytest.approx(0.25), "m3")}
    assert not found.fabric.wanted
    assert (found.fabric.roll_width, found.fabric.roll_length, found.fabric.overlap) == pytest.approx((1.5, 20.0, 0.3))
    assert found.prices == {"bar-900": 2.5, "screw": 0.0}
    assert (found.crew.people, found.crew.hours_per_day, found.crew.wage) == (2, 6.5, 15.0)
    assert found.crew.haul_distance == pytest.approx(35)
    # m3 an hour where the row is by the hour; a norm day of 8 h where it is by the day.
    assert found.crew.rates == pytest.approx(
        {"dig-loam": 0.9, "lay-frame": 3.0, "barrow-40": 8.0, "saw-cut": 12.0, "lay-fabric": 25.0}
    )
    assert found.crew.machine is not None
    assert (found.crew.machine.name, found.crew.machine.dig, found.crew.machine.hire) == ("digger", 3.0, 160.0)


WRONG = {
    "a price in quotes": ('[prices]\nscrew = "0.25"', "take the quotes and the unit away"),
    "a price below zero": ("[prices]\nscrew = -1", "too small"),
    "a bar that is not known": ('[frame]\nbar = "no-44"', "no-4"),
    "a task that is not known": ("[crew]\nrates = { dig-loan = 1.0 }", "dig-loam"),
    "a rate of the wrong kind": ('[crew]\nrates = { dig-loam = "3 m/h" }', "0.9 m3/h"),
    "a rate without time": ('[crew]\nrates = { dig-loam = "3 m3" }', "0.9 m3/h"),
    "a rate of nothing": ("[crew]\nrates = { dig-loam = 0 }", "too small"),
    "a compactor that is not known": ('[materials]\ncompactor = "plait"', "plate"),
    "a timber in the wrong unit": ("[materials]\nstock = [{ length = 3600 }]", "a timber from 300 mm to 30 m"),
    "no timber at all": ("[materials]\nstock = []", "stock"),
    "a step of nothing": ('[materials]\nsold-by = { sand = "0 m3" }', "no step to sell by"),
    "a key that is misspelt": ('[frame]\nbar-spaceing = "1 m"', "bar-spacing"),
    "a saw cut in the wrong unit": ('[materials]\nkerf = "3 cm"', "a saw cut from 0 to 20 mm"),
    "nobody": ("[crew]\npeople = 0", "from 1 to 100"),
}


@pytest.mark.parametrize("wrong", WRONG)
def test_tables_when_a_value_is_wrong(tmp_path: Path, wrong: str) -> None:
    """A wrong value is answered with its line and with what would do."""
    text, words = WRONG[wrong]
    with pytest.raises(InputError) as caught:
        options(tmp_path, text)
    assert len(caught.value.faults) == 1
    line = HEAD.count("\n") + 2
    assert f"site.toml line {line}" in str(caught.value)
    assert words.casefold() in str(caught.value).casefold()


@pytest.mark.parametrize("beam", ["3x9", "oak", "100"])
def test_beam_when_it_is_no_section(tmp_path: Path, beam: str) -> None:
    """A section that is none, or whose real size is not known, is answered with its line."""
    (tmp_path / "shots.csv").write_text("P1,0,0,1.2\n", encoding="utf-8")
    text = HEAD.format(units="m").replace('kind = "timber"', f'kind = "timber", beam = "{beam}"')
    (tmp_path / "site.toml").write_text(text, encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_site(tmp_path)
    message = str(caught.value)
    assert f"site.toml line {HEAD.count(chr(10))}" in message
    assert f'beam = "{beam}" is no section of timber' in message
    assert "89 x 140" in message


def test_tables_when_everything_is_wrong(tmp_path: Path) -> None:
    """All faults of all tables are reported in one run."""
    with pytest.raises(InputError) as caught:
        options(tmp_path, "\n".join(text for text, _ in list(WRONG.values())[1:2] + list(WRONG.values())[2:4]))
    assert len(caught.value.faults) == 3


def test_rates_when_asked_for_by_row() -> None:
    """The rows that the test gives rates of its own are in the units that it takes them to be in."""
    assert [factor_row("rates", name).unit for name in ("dig-loam", "barrow-40", "lay-fabric", "saw-cut")] == [
        "m3/h",
        "m3/day",
        "m2/h",
        "1/h",
    ]
