"""What a site file says of the stakes and the paper, and which of its points can be found again to tape from."""

from __future__ import annotations

from pathlib import Path

import pytest

from spadework.plan import PlanInputs
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs

ROWS = """point,east (m),north (m),level (m)
F1,0,0,10.0
F2,20,0,10.1
F3,20,20,10.2
F4,0,20,10.3
T1,5,5,10.0
BM1,-1,-1,10.0
H1,2,25,10.4
H2,9,25,10.4
7,12,11,10.1
"""


def inputs_of(folder: Path, more: str) -> PlanInputs:
    """What a plan is made from, for a fenced yard with a tree."""
    (folder / "points.csv").write_text(ROWS, encoding="utf-8")
    (folder / "site.toml").write_text(
        '[site]\nname = "Yard"\nunits = "m"\ndatum = { point = "BM1", level = 10.0 }\n'
        '[[readings]]\nfile = "points.csv"\n'
        '[boundary]\npoints = ["F1", "F2", "F3", "F4"]\n'
        '[[keep-out]]\nname = "tree"\nat = "T1"\nradius = "2 m"\n'
        '[pad]\nsize = ["4 m", "3 m"]\nbearing = { parallel-to = ["H1", "H2"] }\n' + more,
        encoding="utf-8",
    )
    site = load_site(folder)
    return plan_inputs(site, load_survey(site))


def test_points_that_stand_fast_are_known(tmp_path: Path) -> None:
    """Fence corners, the ends of the line that the pad follows, the bench mark; no tree, no shot on the grass."""
    inputs = inputs_of(tmp_path, "")
    assert {name: (east, north) for name, east, north in inputs.fixed_points} == {
        "F1": (0.0, 0.0),
        "F2": (20.0, 0.0),
        "F3": (20.0, 20.0),
        "F4": (0.0, 20.0),
        "H1": (2.0, 25.0),
        "H2": (9.0, 25.0),
        "BM1": (-1.0, -1.0),
    }


def test_bench_mark_is_no_point_to_tape_from_when_it_has_no_position(tmp_path: Path) -> None:
    """A bench mark of which only the level is known is left out, without a fault."""
    inputs = inputs_of(tmp_path, "")
    without = tmp_path / "without"
    without.mkdir()
    text = (tmp_path / "site.toml").read_text(encoding="utf-8").replace('point = "BM1"', 'point = "step"')
    (without / "points.csv").write_text(ROWS, encoding="utf-8")
    (without / "site.toml").write_text(text, encoding="utf-8")
    site = load_site(without)
    found = plan_inputs(site, load_survey(site))
    assert "step" not in {name for name, _, _ in found.fixed_points}
    assert len(found.fixed_points) == len(inputs.fixed_points) - 1


def test_stakes_and_paper_come_from_the_site_file(tmp_path: Path) -> None:
    """Offset, spacing and tape error in any unit; the paper by its name."""
    inputs = inputs_of(
        tmp_path, '[stakes]\noffset = "600 mm"\nside-spacing = "2 m"\ntape-sd = "4 mm"\n[sheet]\npaper = "letter"\n'
    )
    assert inputs.offset == pytest.approx(0.6)
    assert inputs.side_spacing == pytest.approx(2.0)
    assert inputs.tape_sd == pytest.approx(0.004)
    assert inputs.paper == "Letter"


def test_stakes_have_their_defaults_when_the_site_file_is_silent(tmp_path: Path) -> None:
    """No offset stakes, a spacing chosen from the pad, a tape good to 5 mm, A4."""
    inputs = inputs_of(tmp_path, "")
    assert (inputs.offset, inputs.side_spacing, inputs.tape_sd, inputs.paper) == (0.0, None, 0.005, "A4")
