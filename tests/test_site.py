"""The site file: what it means in metres."""

from __future__ import annotations

import math
from pathlib import Path

import pytest

from site_files import START, load, write_site
from spadework.errors import InputError
from spadework.factors import soil_factors
from spadework.site import load_site
from spadework.units import FOOT, LengthUnit

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


WHOLE = """\
[site]
name  = "Orchard bed"
units = "m"
datum = { point = "BM1", level = 100.0 }
crs = "EPSG:27700"

[[readings]]
file = "shots.csv"
kind = "rod-list"
instrument = "rotary-laser"
sd = "3 mm"
rod-length = "16 ft"
accept = ["P17"]

[[readings]]
file = "-"
kind = "drop-grid"
units = "ft-in"
line-level = "99 m"
origin = ["10 ft", 0]
bearing = "30 deg"

[levels]
tolerance = "12 mm*sqrt(km)"
adjust = "distance"
allow-misclosure = true

[boundary]
corners = [[0, 0], [30, 0], ["30 m", "2000 cm"]]
setback = "1 m"

[[keep-out]]
at = "T1"
radius = "2.5 m"

[[keep-out]]
name = "drain"
corners = [[1, 1], [2, 1], [2, 2]]
clearance = 0.5

[[keep-out]]
at = [4, 5]
radius = 1

[pad]
building = ["2.4 m", "12 ft"]
margin   = "300 mm"
finish   = "99.5 m"
strip    = "3 in"
position = [12, 8.5]
bearing  = { parallel-to = ["H1", "H2"] }
build-up = [{ material = "clean-stone-20", depth = "100 mm" }, { material = "slab", depth = 0.12 }]
edge     = { kind = "bank", cut = "1:1.5", fill = "50 %" }

[goal]
least = "balance"
limits = { cut-depth = 0.5, fill-depth = "1 ft", bought = "2 yd3" }

[soil]
swell = "25 %"
shrink = 0.1

[stakes]
references = ["H1", [0, 0]]
offset = "600 mm"
grid = "1 m"
tape = 8
"""

BANK = 'edge = { kind = "bank", cut = "1:1.5", fill = "1:2" }'


class TestMeaning:
    """What the keys come to."""

    def test_lengths_are_metres_when_units_are_mixed(self, tmp_path: Path) -> None:
        """Text with a unit and plain numbers all become metres; a foot is 0.3048 m exactly."""
        site = load(tmp_path, WHOLE)
        assert site.readings[0].sd == pytest.approx(0.003, abs=1e-15)
        assert site.readings[0].rod_length == pytest.approx(16 * 0.3048, abs=1e-12)
        assert site.readings[1].origin == pytest.approx((10 * 0.3048, 0.0), abs=1e-12)
        assert site.boundary is not None
        assert site.boundary.corners == ((0.0, 0.0), (30.0, 0.0), (30.0, 20.0))
        assert site.pad_table is not None
        assert site.pad_table.finish == pytest.approx(99.5)
        assert site.pad_table.strip == pytest.approx(3 * 0.0254, abs=1e-15)
        assert site.pad_table.position == (12.0, 8.5)
        assert site.goal.limits.fill_depth == pytest.approx(0.3048, abs=1e-15)
        assert site.goal.limits.bought == pytest.approx(2 * (3 * 0.3048) ** 3, rel=1e-12)  # a yard is three feet

    def test_every_other_key_is_kept_when_the_file_is_whole(self, tmp_path: Path) -> None:
        """Names, words and flags come through as they were written."""
        site = load(tmp_path, WHOLE)
        assert (site.name, site.units, site.crs) == ("Orchard bed", LengthUnit.METRE, "EPSG:27700")
        assert site.datum is not None
        assert (site.datum.point, site.datum.level) == ("BM1", 100.0)
        laser, grid = site.readings
        assert (laser.file, laser.kind, laser.instrument, laser.accept) == (
            "shots.csv",
            "rod-list",
            "rotary-laser",
            ("P17",),
        )
        assert (grid.file, grid.units, grid.line_level, grid.bearing) == ("-", LengthUnit.FOOT_INCH, 99.0, 30.0)
        assert (site.levels.tolerance, site.levels.adjust) == ("12 mm*sqrt(km)", "distance")
        assert site.levels.allow_misclosure
        assert site.goal.least == "balance"
        assert site.stakes.references == ("H1", (0.0, 0.0))
        assert (site.stakes.offset, site.stakes.grid, site.stakes.tape) == (0.6, 1.0, 8.0)

    def test_keep_out_is_numbered_when_it_has_no_name(self, tmp_path: Path) -> None:
        """Every keep-out can be named in an explanation."""
        site = load(tmp_path, WHOLE)
        assert [keep_out.name for keep_out in site.keep_outs] == ["keep-out 1", "drain", "keep-out 3"]
        assert site.keep_outs[0].at == "T1"
        assert site.keep_outs[2].at == (4.0, 5.0)

    def test_pad_is_building_and_twice_the_margin(self, tmp_path: Path) -> None:
        """The pad reaches beyond the building by the margin on every side."""
        site = load(tmp_path, WHOLE)
        length, width = 2.4 + 2 * 0.3, 12 * 0.3048 + 2 * 0.3
        assert site.pad.sides == pytest.approx([length, width, length, width])
        assert site.pad.building == pytest.approx((2.4, 12 * 0.3048))
        assert site.pad.build_up.thickness == pytest.approx(0.22)
        assert not site.pad.edge.retained
        assert site.pad.edge.cut_slope == pytest.approx(1 / 1.5)
        assert site.pad.edge.fill_slope == pytest.approx(0.5)

    def test_pad_is_the_size_when_size_is_given(self, tmp_path: Path) -> None:
        """A size stands as it is, and an edge that is not given has vertical sides."""
        site = load(tmp_path, START + '[pad]\nsize = ["3 m", "4.2 m"]\n')
        assert site.pad.sides == pytest.approx([3.0, 4.2, 3.0, 4.2])
        assert site.pad.edge.retained
        assert site.pad.building is None

    def test_pad_is_an_l_when_it_has_a_notch(self, tmp_path: Path) -> None:
        """It covers the rectangle less the notch."""
        text = '[pad]\nsize = ["6 m", "4 m"]\nnotch = { corner = "b", size = ["2 m", "1.5 m"] }\n'
        pad = load(tmp_path, START + text).pad
        assert pad.sized == "L"
        assert pad.area == pytest.approx(6 * 4 - 2 * 1.5)

    def test_pad_is_round_when_it_has_a_diameter(self, tmp_path: Path) -> None:
        """It has the radius and the area of the circle."""
        pad = load(tmp_path, START + '[pad]\ndiameter = "4 m"\n').pad
        assert pad.radius == pytest.approx(2.0)
        assert pad.area == pytest.approx(4 * math.pi)

    def test_pad_is_any_shape_when_it_has_corners(self, tmp_path: Path) -> None:
        """Sides keep their lengths and order."""
        pad = load(tmp_path, START + '[pad]\ncorners = [[10, 3], ["14 m", 3], [14, 6]]\n').pad
        assert pad.sides == pytest.approx([4.0, 3.0, 5.0])

    def test_soil_is_the_users_own_when_both_numbers_are_given(self, tmp_path: Path) -> None:
        """Given factors have no range, and name the line they stand on."""
        factors = load(tmp_path, WHOLE).soil_factors
        assert factors is not None
        assert (factors.swell, factors.swell_low, factors.swell_high) == (0.25, 0.25, 0.25)
        assert (factors.shrink, factors.shrink_low, factors.shrink_high) == (0.1, 0.1, 0.1)
        assert f"line {WHOLE[: WHOLE.index('swell')].count(chr(10)) + 1}" in factors.source

    def test_soil_is_a_row_of_the_table_when_its_kind_is_given(self, tmp_path: Path) -> None:
        """A kind is looked up in the table of bulking factors."""
        assert load(tmp_path, START + '[soil]\nkind = "clay"\n').soil_factors == soil_factors("clay")

    def test_soil_is_unknown_when_the_file_says_nothing(self, tmp_path: Path) -> None:
        """No soil is made up."""
        assert load(tmp_path, START).soil_factors is None

    def test_defaults_are_free_when_a_pad_says_little(self, tmp_path: Path) -> None:
        """Position, bearing and finish are free, and least digging is the goal."""
        site = load(tmp_path, START + "[pad]\nsize = [3, 4]\n")
        assert site.pad_table is not None
        assert (site.pad_table.position, site.pad_table.bearing, site.pad_table.finish) == ("free", "free", "free")
        assert site.goal.least == "digging"
        assert site.levels.adjust == "set-ups"
        assert not site.levels.allow_misclosure

    def test_name_is_that_of_the_folder_when_there_is_none(self, tmp_path: Path) -> None:
        """A site without a name is called as its folder."""
        folder = tmp_path / "south lawn"
        folder.mkdir()
        write_site(folder, START)
        assert load_site(folder).name == "south lawn"

    @pytest.mark.parametrize("sample", ["laser-yard", "string-grid", "paddock-raster"])
    def test_samples_load_from_file_and_from_folder(self, sample: str) -> None:
        """The surveys that come along hold no fault, and file and folder mean the same."""
        assert load_site(SAMPLES / sample) == load_site(SAMPLES / sample / "site.toml")

    def test_lengths_are_feet_when_the_file_is_in_feet(self, tmp_path: Path) -> None:
        """Plain numbers are decimal feet in a file of decimal feet."""
        site = load(tmp_path, START.replace('"m"', '"ft"') + "[pad]\nsize = [9.5, 8]\nstrip = 0.25\n")
        assert site.pad.sides[:2] == pytest.approx([9.5 * FOOT, 8 * FOOT])
        assert site.pad.strip == pytest.approx(0.25 * 0.3048)

    def test_file_is_read_when_it_has_a_byte_order_mark_and_windows_lines(self, tmp_path: Path) -> None:
        """What an editor on another system adds does no harm, and lines are still counted right."""
        text = "\ufeff" + START + "[pad]\nsize = [3, -4]\n"
        write_site(tmp_path, "")
        (tmp_path / "site.toml").write_bytes(text.replace("\n", "\r\n").encode())
        with pytest.raises(InputError, match=r"site\.toml line 8: "):
            load_site(tmp_path)

    def test_source_names_file_and_line_of_a_key(self, tmp_path: Path) -> None:
        """A fault found later can name the line of the key that brought it in."""
        site = load(tmp_path, WHOLE)
        source = site.source("keep-out", 1, "clearance")
        assert source.file == str(tmp_path / "site.toml")
        assert source.line == WHOLE[: WHOLE.index("clearance")].count("\n") + 1

    @pytest.mark.parametrize(
        ("text", "wanted"),
        [
            ("corners = [[0, 0], [4, 4], [4, 0], [0, 4]]", "the outline of the pad crosses itself"),
            ("corners = [[0, 0], [4, 4], [8, 8]]", "the outline of the pad"),
            ('size = [3, 4]\nnotch = { corner = "A", size = [3, 1] }', "takes the whole length or width"),
        ],
        ids=["bow", "line", "notch"],
    )
    def test_pad_is_refused_when_its_outline_is_none(self, tmp_path: Path, text: str, wanted: str) -> None:
        """The fault says what is wrong and where."""
        site = load(tmp_path, f"{START}[pad]\n{text}\n")
        with pytest.raises(InputError, match=wanted) as caught:
            _ = site.pad
        assert "site.toml line" in str(caught.value)

    @pytest.mark.parametrize(
        ("text", "count"),
        [
            ("corners = [[0, 0], [4, 0], [5, 2], [2, 4], [-0.5, 3]]", 5),
            ("corners = [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]]", 5),
            ('size = [6, 4]\nnotch = { corner = "C", size = [2, 1] }', 6),
        ],
        ids=["pentagon", "arrow", "notch"],
    )
    def test_banks_go_round_any_outline(self, tmp_path: Path, text: str, count: int) -> None:
        """A pentagon has banks, and so have outlines that turn inward; their corners are mitred unless it is said."""
        site = load(tmp_path, f"{START}[pad]\n{text}\n{BANK}\n")
        assert not site.pad.edge.retained
        assert site.pad.edge.corners == "mitred"
        assert len(site.pad.outline) == count

    def test_banks_have_round_corners_when_asked_for(self, tmp_path: Path) -> None:
        """The word is read, another is refused with those that are known, and a timber edge has no such corners."""
        banked = BANK.replace(" }", ', corners = "round" }')
        assert load(tmp_path, f"{START}[pad]\nsize = [6, 4]\n{banked}\n").pad.edge.corners == "round"
        for edge, wanted in (
            (BANK.replace(" }", ', corners = "rounded" }'), 'Did you mean "round"|round'),
            ('edge = { kind = "timber", beam = "100 x 150", corners = "round" }', "has no meaning for kind"),
        ):
            with pytest.raises(InputError, match=wanted):
                load(tmp_path, f"{START}[pad]\nsize = [6, 4]\n{edge}\n")

    def test_pad_is_asked_for_when_there_is_none(self, tmp_path: Path) -> None:
        """A survey without a pad loads, but asking for the pad is a fault with the remedy."""
        site = load(tmp_path, START)
        with pytest.raises(InputError, match=r"no table \[pad\]"):
            _ = site.pad
