"""The site file: what is said of each fault in it."""

from __future__ import annotations

import math
import re
from pathlib import Path

import pytest

from site_files import START, faults_of, load, one_fault, write_site
from spadework.errors import InputError
from spadework.site import load_site
from spadework.site_schema import SiteFile

BANK = '[pad]\nsize = [3, 4]\nedge = { kind = "bank", cut = "1:1.5", fill = "1:2" }\n'
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
    "edge of a bank limited": (
        BANK + '[goal]\nlimits = { exposed-edge = "600 mm" }\n',
        11,
        ["exposed-edge", "edge is a bank", "Take it out; fill-depth limits"],
    ),
    "edge of a bank made lowest": (
        BANK + '[goal]\nleast = "wall"\n',
        11,
        ['"wall"', "edge is a bank", "retained edge"],
    ),
    "edge of a bank in a mix": (
        BANK + "[goal]\nleast = { digging = 1, wall = 0.5 }\n",
        11,
        ['"wall"', "height of the edge", "edge is a bank"],
    ),
    "edge of a bank priced": (
        BANK + '[goal]\nleast = "cost"\nprices = { dig = 1, fill = 1, cart-away = 1, buy-soil = 1, wall = 5 }\n',
        12,
        ["prices has wall", "edge is a bank", "Take that price out"],
    ),
    "barrowing of a bank": (BANK + '[goal]\nleast = "moved"\n', 11, ['"moved"', "counts barrowing", "edge is a bank"]),
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
