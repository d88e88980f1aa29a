"""``spadework new``: a starter site that runs as it is, and a folder of somebody else's that is left alone."""

from __future__ import annotations

import json
import math
from pathlib import Path

import pytest

from command_line import run
from spadework.cli.starter import DEFAULT_PAD, INSTRUMENTS, STARTERS, Starter, starter_files
from spadework.site import load_site
from spadework.units import LengthUnit, parse_length

KINDS = {"laser": "rod-list", "string": "drop-grid", "raster": "raster"}


@pytest.mark.parametrize("units", ["m", "ft", "ft-in"])
@pytest.mark.parametrize("kind", STARTERS)
def test_starter_is_placed_when_nothing_is_changed(tmp_path: Path, kind: str, units: str) -> None:
    """Each starter site goes through to a spot, and is read as what it was made as."""
    made = run("new", "garden", "--kind", kind, "--units", units, folder=tmp_path)
    assert made.status == 0, made.err
    assert "Next: spadework plan garden" in made.out
    if units == "m":
        ground = run("ground", tmp_path / "garden")
        assert ground.status == 0, ground.err
        assert f"read as {KINDS[kind]}" in ground.out
    placed = run("place", tmp_path / "garden", "--json")
    assert placed.status == 0, placed.err
    assert json.loads(placed.out)["best"]["cut"] > 0


@pytest.mark.parametrize(
    ("text", "sides"),
    [
        ("3.6m x 2.4m", (3.6, 2.4)),
        ("5x4", (5.0, 4.0)),
        ("12ft × 10 ft", (12 * 0.3048, 10 * 0.3048)),
        ("3 m by 250 cm", (3.0, 2.5)),
    ],
)
def test_pad_has_the_size_asked_for(tmp_path: Path, text: str, sides: tuple[float, float]) -> None:
    """The size is taken as it was written, with a unit or in that of the site."""
    assert run("new", tmp_path / "garden", "--pad", text).status == 0
    assert load_site(tmp_path / "garden").pad.sides[:2] == pytest.approx(sides)


def test_yard_has_room_when_the_pad_is_large(tmp_path: Path) -> None:
    """The yard grows with the pad, so that a starter site always has an answer."""
    run("new", tmp_path / "barn", "--pad", "40m x 25m", "--kind", "string")
    assert run("place", tmp_path / "barn").status == 0


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("4m", 'write both with an x between: "4m x 3m"'),
        ("4m x 3q", "3q"),
        ("4m x 0", "is too small"),
        ("4m x 3km", "is too big"),
        ("1x2x3", "is not a length and a width"),
    ],
)
def test_pad_is_refused_when_it_is_no_size(tmp_path: Path, text: str, wanted: str) -> None:
    """A size that cannot be read is refused with the value, and nothing is written."""
    result = run("new", tmp_path / "garden", "--pad", text)
    assert result.status == 2
    assert wanted.casefold() in result.err.casefold()
    assert not (tmp_path / "garden").exists()


def test_plain_pad_is_questioned_when_in_feet_and_inches(tmp_path: Path) -> None:
    """A plain number could be feet or inches, and is asked about."""
    result = run("new", tmp_path / "garden", "--units", "ft-in", "--pad", "12x10")
    assert result.status == 2
    assert "feet or inches" in result.err.casefold()


def test_folder_is_left_alone_when_it_holds_something(tmp_path: Path) -> None:
    """A folder that is not empty is refused and stays as it is; an empty one is taken."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    result = run("new", tmp_path)
    assert result.status == 2
    assert "is not empty" in result.err
    assert [path.name for path in tmp_path.iterdir()] == ["letter.txt"]
    assert run("new", tmp_path / "letter.txt").status == 2
    (tmp_path / "empty").mkdir()
    assert run("new", tmp_path / "empty").status == 0


def test_nothing_is_left_when_writing_fails(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """If the second file cannot be written, the first one and the folder go as well."""
    write_bytes, written = Path.write_bytes, []

    def full_disk(path: Path, content: bytes) -> int:
        written.append(path)
        if len(written) > 1:
            raise OSError(28, "No space left on device", str(path))
        return write_bytes(path, content)

    monkeypatch.setattr(Path, "write_bytes", full_disk)
    result = run("new", tmp_path / "garden")
    assert result.status == 2
    assert "No space left on device" in result.err
    assert not (tmp_path / "garden").exists()


def test_names_are_told_to_programs(tmp_path: Path) -> None:
    """``--json`` names the folder and the files."""
    result = run("new", tmp_path / "garden", "--json")
    assert json.loads(result.out) == {
        "folder": str(tmp_path / "garden"),
        "files": ["reading-form.html", "shots.csv", "site.toml"],
    }


def test_site_loads_when_the_folder_has_an_odd_name(tmp_path: Path) -> None:
    """Quotes, signs and spaces in the folder's name do no harm to the site file."""
    folder = tmp_path / 'Ida\'s "garden" = ü #1'
    assert run("new", folder).status == 0
    assert load_site(folder).name == folder.name


@pytest.mark.parametrize("unit", LengthUnit)
def test_lengths_in_the_starter_are_those_of_its_ground(unit: LengthUnit) -> None:
    """Drops written to the nearest step differ from the invented ground by half a step at most."""
    starter = Starter("x", "string", unit, DEFAULT_PAD[unit], 4.0)
    rows = [line.split("\t") for line in starter_files(starter)["drops.txt"].splitlines()]
    step = {LengthUnit.METRE: 0.001, LengthUnit.FOOT: 0.003048, LengthUnit.FOOT_INCH: 0.0254 / 8}[unit]
    for row in rows[1:]:
        north = parse_length(row[0], unit)
        for heading, cell in zip(rows[0][1:], row[1:], strict=True):
            east = parse_length(heading, unit)
            exact = 0.4 + 0.03 * east + 0.02 * north - 0.06 * math.sin(east / 3) * math.cos(north / 4)
            assert parse_length(cell, unit) == pytest.approx(exact, abs=step / 2 + 1e-9)


@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_site_says_the_instrument(tmp_path: Path, instrument: str) -> None:
    """The instrument decides the kind of readings, and stands in the site file."""
    assert run("new", tmp_path / "garden", "--instrument", instrument).status == 0
    site = load_site(tmp_path / "garden")
    if INSTRUMENTS[instrument] == "raster":
        assert not (tmp_path / "garden" / "reading-form.html").exists()
    else:
        assert site.readings[0].instrument == instrument
        assert (tmp_path / "garden" / "reading-form.html").exists()


def test_instrument_and_kind_must_go_together(tmp_path: Path) -> None:
    """A water level gives no rods."""
    result = run("new", tmp_path / "garden", "--instrument", "water-level", "--kind", "laser")
    assert result.status == 2
    assert "readings of kind string" in result.err
    assert not (tmp_path / "garden").exists()


def test_answers_are_taken_when_asked(tmp_path: Path) -> None:
    """Instrument, unit and pad are asked for on standard error; a pad that cannot be read is asked for again."""
    answers = "string-line\nft-in\n12x10\n14ft x 9ft\n"
    result = run("new", tmp_path / "garden", "--ask", stdin=answers)
    assert result.status == 0, result.err
    site = load_site(tmp_path / "garden")
    assert site.units is LengthUnit.FOOT_INCH
    assert site.readings[0].instrument == "string-line"
    assert site.pad.sides[:2] == pytest.approx((14 * 0.3048, 9 * 0.3048))
    for question in ("What do you measure with?", "In which unit?", "How large is the pad?", "feet or inches"):
        assert question in result.err
    assert "?" not in result.out


def test_usual_answers_are_taken_when_enter_is_pressed(tmp_path: Path) -> None:
    """Three empty answers give the same as no question."""
    assert run("new", tmp_path / "asked" / "garden", "--ask", stdin="\n\n\n").status == 0
    assert run("new", tmp_path / "plain" / "garden").status == 0
    for name in ("site.toml", "shots.csv", "reading-form.html"):
        asked, plain = (tmp_path / how / "garden" / name for how in ("asked", "plain"))
        assert asked.read_bytes() == plain.read_bytes()


def test_only_what_is_not_given_is_asked(tmp_path: Path) -> None:
    """What the call gives is not asked for."""
    result = run("new", tmp_path / "garden", "--ask", "--instrument", "hand-level", "--pad", "3m x 2m", stdin="ft\n")
    assert result.status == 0
    assert result.err.count("?") == 1


def test_nothing_is_written_when_the_answers_end(tmp_path: Path) -> None:
    """Answers that are cut short interrupt, and leave nothing."""
    result = run("new", tmp_path / "garden", "--ask", stdin="string-line\n")
    assert result.status == 130
    assert not (tmp_path / "garden").exists()


def test_folder_is_refused_before_anything_is_asked(tmp_path: Path) -> None:
    """Nobody answers three questions to be told that the folder is taken."""
    (tmp_path / "letter.txt").write_text("dear", encoding="utf-8")
    result = run("new", tmp_path, "--ask", stdin="")
    assert result.status == 2
    assert "is not empty" in result.err
    assert "?" not in result.err
