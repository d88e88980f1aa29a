"""The site file: what it means in metres, and what is said of each fault in it."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from spadework.errors import InputError
from spadework.factors import soil_factors
from spadework.site import Site, load_site
from spadework.site_schema import SiteFile
from spadework.units import FOOT, LengthUnit

SAMPLES = Path(__file__).parents[1] / "sample_surveys"

START = """\
[site]
units = "m"

[[readings]]
file = "shots.csv"

"""


def write_site(folder: Path, text: str) -> Path:
    """Write a site file and an empty file of readings beside it."""
    (folder / "shots.csv").write_text("point,east,north,level\n", encoding="utf-8")
    file = folder / "site.toml"
    file.write_text(text, encoding="utf-8")
    return file


def load(folder: Path, text: str) -> Site:
    """Load a site file with that text."""
    return load_site(write_site(folder, text))


def faults_of(folder: Path, text: str) -> list[str]:
    """Every fault of a site file with that text, without the folder."""
    with pytest.raises(InputError) as caught:
        load(folder, text)
    return [str(fault).replace(f"{folder}/", "") for fault in caught.value.faults]


def one_fault(folder: Path, text: str) -> str:
    """The only fault of a site file with that text."""
    faults = faults_of(folder, text)
    assert len(faults) == 1, faults
    return faults[0]


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
limits = { exposed-edge = "600 mm", cut-depth = 0.5, fill-depth = "1 ft", bought = "2 yd3" }

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
            (f'size = [6, 4]\nnotch = {{ corner = "C", size = [2, 1] }}\n{BANK}', "turns inward at corner D"),
            (f"corners = [[0, 0], [4, 0], [4, 4], [2, 1], [0, 4]]\n{BANK}", "turns inward at corner D"),
        ],
        ids=["bow", "line", "notch", "banked-notch", "banked-arrow"],
    )
    def test_pad_is_refused_when_its_outline_is_none(self, tmp_path: Path, text: str, wanted: str) -> None:
        """The fault says what is wrong and where."""
        site = load(tmp_path, f"{START}[pad]\n{text}\n")
        with pytest.raises(InputError, match=wanted) as caught:
            _ = site.pad
        assert "site.toml line" in str(caught.value)

    def test_banks_go_round_any_outline_that_only_turns_outward(self, tmp_path: Path) -> None:
        """A pentagon has banks; none of its corners is in the way of another."""
        site = load(tmp_path, f"{START}[pad]\ncorners = [[0, 0], [4, 0], [5, 2], [2, 4], [-0.5, 3]]\n{BANK}\n")
        assert not site.pad.edge.retained
        assert len(site.pad.outline) == 5

    def test_pad_is_asked_for_when_there_is_none(self, tmp_path: Path) -> None:
        """A survey without a pad loads, but asking for the pad is a fault with the remedy."""
        site = load(tmp_path, START)
        with pytest.raises(InputError, match=r"no table \[pad\]"):
            _ = site.pad


ONE_FAULT = {
    "unknown key": ('[pad]\nsize = [3, 4]\nstirp = "75 mm"\n', 9, ['"stirp"', "[pad]", 'Did you mean "strip"?']),
    "key of another table": ("[pad]\nsize = [3, 4]\nsetback = 1\n", 9, ['"setback" belongs in [boundary]']),
    "unknown table": ("[bondary]\nsetback = 1\n", 7, ["[bondary]", 'Did you mean "boundary"?']),
    "unknown key in a list": (
        "[pad]\nsize = [3, 4]\nbuild-up = [\n  { material = 'a', depth = 1 },\n  { material = 'b', deph = 1 },\n]",
        11,
        ['"deph"', 'Did you mean "depth"?'],
    ),
    "negative setback": ("[boundary]\nsetback = -1\n", 8, ["setback", "-1", "is negative", "0 to 1 km"]),
    "pad of two kilometres": ('[pad]\nsize = ["2 km", 4]\n', 8, ['"2 km"', "is too big", "1 km", "unit"]),
    "layer of three metres": (
        '[pad]\nsize = [3, 4]\nbuild-up = [{ material = "stone", depth = "3 m" }]\n',
        9,
        ['"3 m"', "is too big", "2 m", "is the unit right?"],
    ),
    "strip of two metres": ("[pad]\nsize = [3, 4]\nstrip = 2\n", 9, ["strip = 2", "is too big", "is it mm"]),
    "bearing of 400 degrees": ("[pad]\nsize = [3, 4]\nbearing = 400\n", 9, ["400", "0 to 360", "did you mean 40?"]),
    "unknown unit of length": ('[boundary]\nsetback = "2.5 furlong"\n', 8, ["2.5 furlong", "unit"]),
    "letter for a digit": ('[boundary]\nsetback = "1O m"\n', 8, ["1O m"]),
    "wrong type": ("[boundary]\nsetback = true\n", 8, ["setback = true", "is not a length"]),
    "not a number": ("[boundary]\nsetback = nan\n", 8, ["setback = nan"]),
    "number for a name": ('[boundary]\npoints = [1, "F2", "F3"]\n', 8, ["1", "is not text", 'write it in quotes: "1"']),
    "two corners": ('[boundary]\npoints = ["F1", "F2"]\n', 8, ["is too short", "3 corners"]),
    "corner twice": ('[boundary]\npoints = ["F1", "F2", "F3", "f1"]\n', 8, ['"f1" twice']),
    "two outlines": (
        "[boundary]\npoints = ['a', 'b', 'c']\ncorners = [[0, 0], [1, 0], [1, 1]]\n",
        9,
        ["points and corners"],
    ),
    "position of three": ("[boundary]\ncorners = [[0, 0], [1, 0], [1, 1, 1]]\n", 8, ["[1, 1, 1]", "is too long"]),
    "position of one": ("[[keep-out]]\nat = [1]\nradius = 2\n", 8, ["[1]", "is too short"]),
    "keep-out with one bracket": ('[keep-out]\nat = "T1"\nradius = 2\n', 7, ["[[keep-out]] with two"]),
    "pad with two brackets": ("[[pad]]\nsize = [3, 4]\n", 7, ["[pad]", "with one pair"]),
    "keep-out of nothing": ('[[keep-out]]\nname = "oak"\n', 7, ["none of at, points, corners, file"]),
    "keep-out without radius": ('[[keep-out]]\nat = "T1"\n', 8, ["at needs radius"]),
    "radius without middle": (
        "[[keep-out]]\ncorners = [[0, 0], [1, 0], [1, 1]]\nradius = 2\n",
        9,
        ["radius belongs to at", "clearance"],
    ),
    "pad without size": ("[pad]\nstrip = 0.1\n", 7, ["none of building, size"]),
    "pad with both sizes": ("[pad]\nbuilding = [3, 4]\nsize = [3, 4]\n", 9, ["building and size"]),
    "pad with corners and size": (
        "[pad]\nsize = [3, 4]\ncorners = [[0, 0], [1, 0], [1, 1]]\n",
        9,
        ["size and corners"],
    ),
    "pad of two corners": ("[pad]\ncorners = [[0, 0], [1, 0]]\n", 8, ["is too short", "3 corners"]),
    "pad file missing": ('[pad]\nfile = "pad.geojson"\n', 8, ["pad.geojson does not exist"]),
    "crs without a file": ('[pad]\nsize = [3, 4]\ncrs = "site"\n', 9, ["crs belongs to file"]),
    "notch of a circle": (
        '[pad]\ndiameter = 4\nnotch = { corner = "A", size = [1, 1] }\n',
        9,
        ["notch has no rectangle"],
    ),
    "notch at no corner": (
        '[pad]\nsize = [3, 4]\nnotch = { corner = "E", size = [1, 1] }\n',
        9,
        ['"E"', '"A", "B", "C", "D"'],
    ),
    "margin round nothing": ("[pad]\nsize = [3, 4]\nmargin = 0.3\n", 9, ["margin has no building"]),
    "finish misspelt": ('[pad]\nsize = [3, 4]\nfinish = "flsh"\n', 9, ['"flsh"', 'did you mean "flush"?']),
    "position misspelt": ('[pad]\nsize = [3, 4]\nposition = "fre"\n', 9, ['"fre"', 'did you mean "free"?']),
    "edge misspelt": ('[pad]\nsize = [3, 4]\nedge = { kind = "tinber" }\n', 9, ['did you mean "timber"?']),
    "beam of a bank": (
        '[pad]\nsize = [3, 4]\nedge = { kind = "bank", beam = "4 x 6", cut = "1:1", fill = "1:2" }\n',
        9,
        ["edge beam has no meaning"],
    ),
    "bank without slope": ('[pad]\nsize = [3, 4]\nedge = { kind = "bank", cut = "1:1" }\n', 9, ["edge has no fill"]),
    "goal misspelt": ('[goal]\nleast = "diging"\n', 8, ['"diging"', 'did you mean "digging"?']),
    "unknown soil": ('[soil]\nkind = "lome"\n', 8, ["lome", "did you mean", "loam"]),
    "swell in percent": ("[soil]\nswell = 25\nshrink = 0.1\n", 8, ["swell = 25", 'did you mean "25 %"?']),
    "swell alone": ("[soil]\nswell = 0.25\n", 8, ["no shrink"]),
    "kind and numbers": ('[soil]\nkind = "loam"\nswell = 0.2\nshrink = 0.1\n', 9, ["kind and swell and shrink"]),
    "unknown tolerance": ('[levels]\ntolerance = "constructon"\n', 8, ["constructon", "did you mean"]),
    "unknown instrument": (
        '[[readings]]\nfile = "-"\ninstrument = "rotary laser"\n',
        9,
        ['did you mean "rotary-laser"?'],
    ),
    "unknown kind": ('[[readings]]\nfile = "-"\nkind = "rodlist"\n', 9, ['did you mean "rod-list"?']),
    "key of another kind": (
        '[[readings]]\nfile = "-"\nkind = "points"\nline-level = 99\n',
        10,
        ['no meaning for "points"'],
    ),
    "one reference": ('[stakes]\nreferences = ["H1"]\n', 8, ["is too short", "two fixed points"]),
    "missing file": (
        '[[readings]]\nfile = "shots.cvs"\n',
        8,
        ["shots.cvs does not exist", 'did you mean "shots.csv"?'],
    ),
    "boundary file missing": ('[boundary]\nfile = "plot.geojson"\n', 8, ["plot.geojson does not exist"]),
    "file misnamed as folder": ('[boundary]\nfile = "."\n', 8, ["is a folder"]),
    "no readings file named": ("[[readings]]\nsd = 0.003\n", 7, ["[readings 2] has no file"]),
    "unit unsaid": (
        '[[readings]]\nfile = "-"\nunits = "ft"\nline-level = 99\n',
        10,
        ["line-level = 99 has no unit", '"99 m" or "99 ft"'],
    ),
}


@pytest.mark.parametrize(("text", "line", "wanted"), ONE_FAULT.values(), ids=ONE_FAULT)
def test_fault_names_line_value_and_remedy_when_one_thing_is_wrong(
    tmp_path: Path, text: str, line: int, wanted: list[str]
) -> None:
    """One mistake gives one message, with the line on which it stands, and what to do."""
    message = one_fault(tmp_path, START + text)
    assert message.startswith(f"site.toml line {line}: ")
    for part in wanted:
        assert part.casefold() in message.casefold()


SYNTAX = {
    "text without quotes": ("[site]\nname = Orchard bed\n", 2, 'name = "Orchard bed"'),
    "length without quotes": ('[site]\nunits = "m"\n[boundary]\nsetback = 2.5 m  # far\n', 4, 'setback = "2.5 m"'),
    "feet and inches in quotes": ('[pad]\nmargin = "6\' 0 1/2""\n', 2, 'margin = "6 ft 0 1/2 in"'),
    "decimal comma": ("[pad]\nmargin = 1,5\n", 2, "margin = 1.5"),
    "bracket not closed": ("[site\nunits = 'm'\n", 1, "Close the brackets"),
    "table twice": ("[pad]\nstrip = 1\n\n[pad]\nmargin = 2\n", 4, "twice"),
    "key twice": ("[pad]\nstrip = 1\nstrip = 2\n", 3, "twice"),
    "quote not closed": ('[site]\nname = "Orchard\nunits = "m"\n', 2, 'name = "Orchard"'),
    "list not closed": ("[boundary]\ncorners = [[0, 0], [1, 1]\nsetback = 3\n", 3, "from line 2 on"),
    "no equals sign": ("[site]\nhello there\n", 2, "key = value"),
    "table without brackets": ("boundry\n", 1, "[boundary]"),
}


@pytest.mark.parametrize(("text", "line", "advice"), SYNTAX.values(), ids=SYNTAX)
def test_fault_gives_line_and_what_was_meant_when_the_text_is_no_toml(
    tmp_path: Path, text: str, line: int, advice: str
) -> None:
    """A text that is no TOML gives one message with the line and a guess at what was meant."""
    message = one_fault(tmp_path, text)
    assert message.startswith(f"site.toml line {line}: ")
    assert advice in message


def test_every_fault_is_told_when_there_are_seven(tmp_path: Path) -> None:
    """Seven mistakes of different sorts are told in one go, in the order of their lines."""
    text = """\
[site]
nmae = "Orchard"
units = "yards"
[[readings]]
file = "shot.csv"
[boundary]
setback = "-1 m"
[pad]
size = ["3 m", "4 q"]
bearing = "north-ish"
[soil]
kind = "mud"
"""
    faults = faults_of(tmp_path, text)
    assert [fault.partition(":")[0] for fault in faults] == [f"site.toml line {n}" for n in (2, 3, 5, 7, 9, 10, 12)]


def test_plain_lengths_are_not_blamed_when_the_units_are_wrong(tmp_path: Path) -> None:
    """A wrong unit of the file is one fault, not one for each number."""
    message = one_fault(tmp_path, START.replace('"m"', '"metres"') + "[boundary]\nsetback = 1\n")
    assert message.startswith("site.toml line 2: ")


def test_plain_length_is_questioned_when_the_file_is_in_feet_and_inches(tmp_path: Path) -> None:
    """A plain 5 could be feet or inches and is never guessed; nought is nought in any unit."""
    start = START.replace('"m"', '"ft-in"')
    assert "feet or inches" in one_fault(tmp_path, start + "[boundary]\nsetback = 5\n").casefold()
    site = load(tmp_path, start + "[boundary]\nsetback = 0\n")
    assert site.boundary is not None
    assert site.boundary.setback == 0.0


def test_units_must_be_given(tmp_path: Path) -> None:
    """A file without units is refused: plain numbers would be a guess."""
    assert "[site] has no units" in one_fault(tmp_path, START.replace('units = "m"', 'name = "a"'))


def test_readings_must_be_named(tmp_path: Path) -> None:
    """A site without readings is refused, and the remedy can be copied."""
    assert '[[readings]] and below it file = "shots.csv"' in one_fault(tmp_path, '[site]\nunits = "m"\n')


def test_paste_is_refused_when_two_readings_want_it(tmp_path: Path) -> None:
    """Standard input can be read once."""
    message = one_fault(tmp_path, START + '[[readings]]\nfile = "-"\n[[readings]]\nfile = "-"\n')
    assert message.startswith("site.toml line 10: ")


@pytest.mark.parametrize(
    ("content", "wanted"),
    [(b"[site]\nname = 'caf\xe9'\n", "line 2: byte 0xe9"), (b"[site]\x00\n", "line 1"), (b"", "[site]")],
    ids=["latin-1", "nul", "empty"],
)
def test_file_is_refused_when_it_is_no_text(tmp_path: Path, content: bytes, wanted: str) -> None:
    """Bytes that are no UTF-8 text, or no text at all, are refused with the line."""
    (tmp_path / "site.toml").write_bytes(content)
    with pytest.raises(InputError) as caught:
        load_site(tmp_path)
    assert wanted in str(caught.value)


def test_file_is_refused_unread_when_it_is_huge(tmp_path: Path) -> None:
    """A file far bigger than a person writes is refused by its size."""
    (tmp_path / "site.toml").write_bytes(b"#" * 1_000_001)
    with pytest.raises(InputError, match="too big"):
        load_site(tmp_path)


def test_nearest_path_is_named_when_nothing_is_there(tmp_path: Path) -> None:
    """A missing site is answered with one that is there, or with how to make one."""
    with pytest.raises(InputError, match="spadework new DIR"):
        load_site(tmp_path / "gardn")
    (tmp_path / "garden").mkdir()
    write_site(tmp_path / "garden", START)
    with pytest.raises(InputError, match=r"Did you mean .*garden"):
        load_site(tmp_path / "gardn")
    with pytest.raises(InputError, match=r"holds no site\.toml"):
        load_site(tmp_path)
    with pytest.raises(InputError, match="no site file"):
        load_site(tmp_path / "garden" / "shots.csv")


def test_slope_of_a_bank_is_rise_over_run(tmp_path: Path) -> None:
    """One up in one and a half along is 2/3, and 30 degrees is its tangent."""
    text = START + '[pad]\nsize = [3, 4]\nedge = { kind = "bank", cut = "1:1.5", fill = "30 deg" }\n'
    edge = load(tmp_path, text).pad.edge
    assert edge.cut_slope == pytest.approx(2 / 3)
    assert edge.fill_slope == pytest.approx(math.tan(math.pi / 6))


def test_every_key_is_on_the_page_of_the_site_file() -> None:
    """The page of the site file names every key that a site file takes, in code type or in its example."""
    page = (Path(__file__).parents[1] / "docs" / "site-file.md").read_text(encoding="utf-8")
    tables = SiteFile.model_json_schema(mode="serialization")["$defs"]
    assert "line-level" in tables["ReadingsTable"]["properties"]
    for name, table in tables.items():
        for key in table.get("properties", {}):
            assert re.search(rf"`{key}`|\b{key} *=", page), f"{name} {key} is not on docs/site-file.md"


@pytest.mark.parametrize("name", ["</H2", "<bearing>", "<"])
def test_table_with_an_odd_name_is_told_like_any_other(tmp_path: Path, name: str) -> None:
    """A name in angle brackets is no more than a name that no table has."""
    path = tmp_path / "site.toml"
    path.write_text(f'[site]\nunits = "m"\n\n["{name}"]\nbui = "600 mm"\n', encoding="utf-8")
    with pytest.raises(InputError) as caught:
        load_site(path)
    assert any(name in str(fault) and fault.source.line == 4 for fault in caught.value.faults)
