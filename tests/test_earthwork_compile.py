"""Whether kernels are compiled, and the way round where they cannot be."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from spadework.earthwork._compile import OWN_PASSES_FOR

SCRIPT = """
import time
import numpy as np
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.earthwork._compile import COMPILED
from spadework.ground import triangulate_shots
from spadework.pad import Pad
from spadework.shots import Shots
import sys

random = np.random.default_rng(1)
east, north = random.uniform(0, 30, 200), random.uniform(0, 40, 200)
shots = Shots(("",) * 200, east, north, 5 + 0.1 * east, ("",) * 200, np.arange(200), ("",) * 200)
poses = random.uniform([8, 8, 0], [22, 32, 180], (2000, 3))
found = pad_levels_batch(triangulate_shots(shots), Pad.rectangle(5, 3), poses, LevelRule(keep=0.9))
print(COMPILED, "numba" in sys.modules, f"{found.cut.sum():.12f}", int(found.allowed.sum()))
"""


def run(script: str = SCRIPT, **environment: str) -> list[str]:
    """Run a script in its own process; what it prints."""
    source = str(Path(__file__).parents[1] / "src")
    result = subprocess.run(
        [sys.executable, "-W", "error", "-c", script],
        env={**os.environ, "PYTHONPATH": source, **environment},
        capture_output=True,
        text=True,
        check=False,
    )
    assert result.returncode == 0, result.stderr
    return result.stdout.split()


def test_numpy_does_the_same_work_when_compiling_is_switched_off() -> None:
    """With SPADEWORK_NO_COMPILE numba is not even imported, and two thousand poses have the same cut."""
    compiled, imported, cut, allowed = run(SPADEWORK_NO_COMPILE="1")
    assert (compiled, imported, allowed) == ("False", "False", "2000")
    *_ways, other_cut, other_allowed = run(SPADEWORK_NO_COMPILE="0")
    assert float(other_cut) == pytest.approx(float(cut), rel=1e-9)
    assert other_allowed == allowed


def test_kernels_work_where_no_folder_can_keep_them(tmp_path: Path) -> None:
    """Without a writable cache the code is made anew in each run, without a word."""
    pytest.importorskip("numba")
    blocked = tmp_path / "file"
    blocked.write_text("not a folder")
    compiled, *_rest, allowed = run(NUMBA_CACHE_DIR=str(blocked / "below"), SPADEWORK_NO_COMPILE="0")
    assert (compiled, allowed) == ("True", "2000")


def test_numba_compiles_in_its_own_way_where_ours_is_not_to_be_had(tmp_path: Path) -> None:
    """The same numbers to the last digit come out of numba's own passes, which another release may leave us with."""
    pytest.importorskip("numba")
    without = "import sys; sys.modules['spadework.earthwork._pipeline'] = None\n"
    (tmp_path / "own").mkdir()
    (tmp_path / "other").mkdir()
    own = run(NUMBA_CACHE_DIR=str(tmp_path / "own"), SPADEWORK_NO_COMPILE="0")
    other = run(without + SCRIPT, NUMBA_CACHE_DIR=str(tmp_path / "other"), SPADEWORK_NO_COMPILE="0")
    assert own == other


def test_a_release_of_numba_that_was_not_tested_compiles_in_its_own_way() -> None:
    """Our passes rest on names inside numba: another release is not given them."""
    pytest.importorskip("numba")
    script = (
        "import numba; numba.__version__ = '{}'; from spadework.earthwork import _compile as c; "
        "print(c._JIT is numba.njit)"
    )
    for version, own in (("0.99.1", "True"), ("0.6.0", "True"), (OWN_PASSES_FOR[0] + "1", "False")):
        done = subprocess.run(
            [sys.executable, "-c", script.format(version)], capture_output=True, text=True, check=True
        )
        assert done.stdout.strip() == own, version
