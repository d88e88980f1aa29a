"""Which surface a site file draws, and what the shots say of each other, through a whole site."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from spadework.confidence.words import doubtful_sentence
from spadework.errors import GroundError
from spadework.plan import make_plan
from spadework.site import load_site
from spadework.survey import Survey, load_survey, plan_inputs
from spadework.units import LengthUnit

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


def site(folder: Path, surface: str = "", *, old: str = "", new: str = "") -> Path:
    """A copy of the laser yard with another surface, or with one text of its shots changed."""
    shutil.copytree(SAMPLES / "laser-yard", folder)
    if surface:
        file = folder / "site.toml"
        file.write_text(f'{file.read_text(encoding="utf-8")}\n[ground]\nsurface = "{surface}"\n', encoding="utf-8")
    if old:
        file = folder / "shots.csv"
        text = file.read_text(encoding="utf-8")
        assert text.count(old) == 1
        file.write_text(text.replace(old, new), encoding="utf-8")
    return folder


def survey(folder: Path) -> Survey:
    """The survey of a site file."""
    return load_survey(load_site(folder))


@pytest.mark.parametrize(
    ("surface", "kind", "said"),
    [
        ("", "triangulated shots", '[ground] surface = "smooth" draws the other'),
        ("smooth", "smoothed shots", "Drawn: the smooth ground of the covariance."),
        ("choose", "smoothed shots", "Drawn: the smooth ground of the covariance."),
        ("triangles", "triangulated shots", "Drawn: triangles between the shots"),
    ],
)
def test_surface_is_the_one_that_is_asked_for_and_said(tmp_path: Path, surface: str, kind: str, said: str) -> None:
    """Triangles unless the site file says otherwise; a sentence says how both met the shots left out."""
    found = survey(site(tmp_path / "yard", surface))
    assert found.ground.kind == kind
    assert said in found.sentences[-1]
    assert "58 shots are met" in found.sentences[-1]


def test_expected_volumes_hardly_depend_on_the_surface_that_is_drawn(tmp_path: Path) -> None:
    """On the smooth surface the drawn cut is within what is to be expected; the plan says how sure it is."""
    folder = site(tmp_path / "yard", "smooth")
    loaded = load_site(folder)
    made = make_plan(plan_inputs(loaded, load_survey(loaded)))
    assert made.confidence is not None
    assert made.confidence.cut.low <= made.earthwork.cut <= made.confidence.cut.high
    assert made.confidence.cut.expected >= made.earthwork.cut - 0.005


def test_misread_rod_is_named_with_what_was_meant(tmp_path: Path) -> None:
    """A rod read a decimetre wrong is found from the other shots, with its line and the reading that was meant."""
    text = (SAMPLES / "laser-yard" / "shots.csv").read_text(encoding="utf-8")
    lines = text.splitlines()
    row = next(i for i, line in enumerate(lines) if line.split(",")[1:2] == ["14"])
    cells = lines[row].split(",")
    rod = float(cells[4])
    old = lines[row]
    new = ",".join([*cells[:4], f"{rod + 0.1:.3f}", *cells[5:]])
    found = survey(site(tmp_path / "yard", old=old, new=new))
    assert found.study is not None
    (shot,) = found.study.doubtful
    assert shot.name == cells[1]
    assert f"line {row + 1}" in shot.where
    assert f"Did you mean rod {rod:.3f} m for {rod + 0.1:.3f} m (one decimetre misread)?" in doubtful_sentence(
        shot, LengthUnit.METRE
    )


def test_misread_drop_is_asked_about_in_the_words_of_the_grid(tmp_path: Path) -> None:
    """A drop read a foot short is named with the drop that was meant, in feet and inches, not with a level."""
    folder = tmp_path / "yard"
    folder.mkdir()
    across = range(0, 35, 5)
    # An even slope of 1 in 20 and 1 in 40 under the string; the ninth cell of the table stands a foot too high.
    drops = {(e, n): 12 + 0.6 * e + 0.3 * n for n in range(0, 30, 5) for e in across}
    text = "drop\t" + "\t".join(f"{e}'" for e in across) + "\n"
    for n in range(0, 30, 5):
        row = [drops[e, n] - (12 if (e, n) == (15, 10) else 0) for e in across]
        text += f"{n}'\t" + "\t".join(f"{int(d // 12)}' {d % 12:g}\"" for d in row) + "\n"
    (folder / "drops.txt").write_text(text, encoding="utf-8")
    head = '[site]\nunits = "ft-in"\n[[readings]]\nfile = "drops.txt"\nline-level = "100 ft"\n'
    (folder / "site.toml").write_text(f'{head}[pad]\nsize = ["6 ft", "4 ft"]\n', encoding="utf-8")
    found = survey(folder)
    assert found.study is not None
    (shot,) = found.study.doubtful
    assert shot.name == "D3"
    assert shot.suggestion == "Did you mean drop 2' 0\" for 1' 0\" (one foot misread)?"


def test_few_shots_are_drawn_and_nothing_is_said_of_their_doubt(tmp_path: Path) -> None:
    """With seven shots the ground is drawn, and a sentence says that its doubt cannot be told."""
    (tmp_path / "shots.csv").write_text(
        "point,east,north,level\n" + "".join(f"P{i},{i % 3 * 4},{i // 3 * 4},{100 + i / 10}\n" for i in range(7)),
        encoding="utf-8",
    )
    (tmp_path / "site.toml").write_text(
        '[site]\nunits = "m"\n[[readings]]\nfile = "shots.csv"\n[pad]\nsize = ["2 m", "2 m"]\n', encoding="utf-8"
    )
    found = survey(tmp_path)
    assert found.study is None
    assert "cannot be said: fewer than 8 shots" in found.sentences[-1]
    loaded = load_site(tmp_path)
    assert make_plan(plan_inputs(loaded, found)).confidence is None


RODS = (
    "setup,point,east (m),north (m),rod (m)\nS1,BM1,,,1.500\nS1,A,0,0,1.2\nS1,B,10,0,1.4\nS1,C,10,10,1.6\n"
    "S1,D,0,10,1.3\nS1,A,0,0,2.9\nS1,E,5,5,1.5\n"
)
TRACK = "latitude,longitude,elevation\n47.12345,11.23450,499.5\n47.12345,11.23450,500.0\n" + "".join(
    f"47.123{45 + i},11.234{60 + 3 * (i % 4)},{500 + 0.1 * i}\n" for i in range(8)
)


def test_a_slip_of_a_rod_does_not_excuse_itself(tmp_path: Path) -> None:
    """Rods of 1.2 and 2.9 m on one peg widen every standard deviation to 1.5 m; still their mean is no ground.

    A phone whose heights are good to metres may well say two of them for one place.
    """
    head = '[site]\nunits = "m"\ndatum = { point = "BM1", level = "100 m" }\n[[readings]]\nfile = "s.csv"\n'
    (tmp_path / "s.csv").write_text(RODS, encoding="utf-8")
    (tmp_path / "site.toml").write_text(f'{head}[pad]\nsize = ["3 m", "2 m"]\n', encoding="utf-8")
    with pytest.raises(GroundError, match=r"A \(s\.csv line 7\) and A \(s\.csv line 3\) .* 1\.700 m apart"):
        survey(tmp_path)
    head = '[site]\nunits = "m"\n[[readings]]\nfile = "s.csv"\ninstrument = "phone"\ntake-heights = true\n'
    (tmp_path / "s.csv").write_text(TRACK, encoding="utf-8")
    (tmp_path / "site.toml").write_text(f'{head}[pad]\nsize = ["3 m", "2 m"]\n', encoding="utf-8")
    assert survey(tmp_path).ground is not None
