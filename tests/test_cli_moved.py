"""The goal of least barrowing at the command line: what is printed, what is said, and what is refused."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from command_line import run
from spadework.units import FOOT

SAMPLES = Path(__file__).parents[1] / "sample_surveys"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the base for a rain tank, in place, that wants least barrowing: in feet, with a timber edge."""
    folder = tmp_path_factory.mktemp("moved") / "string-grid"
    shutil.copytree(SAMPLES / "string-grid", folder)
    file = folder / "site.toml"
    words = file.read_text(encoding="utf-8").replace('least = "digging"', 'least = "moved"\nrank = "expected"')
    words = words.replace('finish   = "free"', 'finish   = "free"\nposition = ["10 ft", "8 ft"]\nbearing = 155')
    file.write_text(words, encoding="utf-8")
    return folder


def test_place_prints_barrowing_and_what_is_not_known_of_it(site: Path) -> None:
    """The proof is in barrow-feet; the trench and the luck that is not worked out are said."""
    done = run("place", site)
    assert done.status == 0, done.err
    assert "least barrowing, loads times their way" in done.out
    assert "barrow-ft" in done.out
    said = " ".join(done.err.split())
    assert "trench of the edge as if it came evenly from all round" in said
    assert "luck has to do with the choice of the spot is not worked out for a goal that counts barrowing" in said


def test_plan_counts_what_its_list_of_moves_does_but_for_the_trench(site: Path, tmp_path: Path) -> None:
    """The value of the best spot stands in the plan's document, in its unit, beside the sum of the list of moves."""
    done = run("plan", site, "--out", tmp_path / "plan")
    assert done.status == 0, done.err
    document = json.loads((tmp_path / "plan" / "plan.json").read_text(encoding="utf-8"))
    best, haul = document["search"]["best"], document["haul"]
    assert best["value"] == pytest.approx(best["moved"])
    asked = json.loads(run("place", site, "--json").out)
    assert asked["best"]["moved"] == pytest.approx(best["moved"] * FOOT, rel=1e-9)
    # Half as much again at the most: the trench gives its soil elsewhere than evenly from all round.
    assert 0.5 < haul["barrow_lengths"] / best["moved"] < 1.5
    said = next(words for words in document["notices"] if words.startswith("Loads times way come to"))
    assert f"{best['moved']:.2f} barrow-ft as the goal counts them" in said
    assert f"{haul['barrow_lengths']:.2f} barrow-ft in the list of moves" in said


def test_scan_refuses_barrowing() -> None:
    """A scan weighs volumes only, and says so."""
    raster = SAMPLES / "paddock-raster" / "paddock.tif"
    done = run("scan", raster, "--pad", "8.2 x 4.6 m", "--soil", "clay", "--goal", "moved")
    assert done.status == 2
    assert "counts barrowing" in done.err
    assert "spadework place" in done.err
