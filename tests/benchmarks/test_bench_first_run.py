"""The first plan on a machine, which compiles, beside the next; and compiling beside numba's own way of it.

Both are printed as ratios of one run: wall time of `spadework plan` on a sample with nothing kept and with all kept,
and processor time of compiling each kernel by our passes and by numba's. Times are never asserted; that the first plan
is the next one to the last byte is. Run with ``pytest tests/benchmarks/test_bench_first_run.py -s``.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

import pytest

from spadework.placement import warm

ROOT = Path(__file__).parents[2]
YARD = ROOT / "sample_surveys" / "laser-yard"
OWN_WAY = "import sys; sys.modules['spadework.earthwork._pipeline'] = None; "
LEVELS = f"""
import numpy as np
from spadework.earthwork import LevelRule, pad_levels_batch
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs
site = load_site({str(YARD)!r})
inputs = plan_inputs(site, load_survey(site), date="2027-03-01")
west, south, east, north = inputs.ground.bounds
middle = np.array([(west + east) / 2, (south + north) / 2, 0.0])
poses = middle + np.random.default_rng(1).normal(0.0, 1.0, (20, 3)) * (1.0, 1.0, 90.0)
print(pad_levels_batch(inputs.ground, inputs.pad, poses, LevelRule("balanced")).formation.tolist())
"""
COMPILE = """
import gc; gc.disable()
import time
import numba, scipy.spatial, shapely
from spadework.placement.warm import KERNELS
began = time.process_time()
KERNELS[{name!r}][1]()
print(time.process_time() - began)
"""

pytestmark = [pytest.mark.slow, pytest.mark.skipif(not warm.COMPILED, reason="nothing is compiled here")]


def run(kept: Path, *words: str) -> tuple[float, str]:
    """Return seconds by the clock and what Python printed, with machine code kept in a folder."""
    kept.mkdir(exist_ok=True)
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(kept), "PYTHONPATH": str(ROOT / "src")}
    began = time.perf_counter()
    done = subprocess.run([sys.executable, *words], env=environment, capture_output=True, text=True, check=True)
    return time.perf_counter() - began, done.stdout


def test_first_plan_beside_the_next(tmp_path: Path, shown: bool) -> None:
    """The first plan is the next one, only later; where nobody looks, only levels of pads on it are worked out."""
    plans, seconds = [], []
    for turn in range(3 if shown else 2):
        out = tmp_path / f"plan{turn}"
        words = ("-m", "spadework", "plan", str(YARD), "--date", "2027-03-01", "--out", str(out), "--json")
        if not shown:
            words = ("-c", LEVELS)
        took, printed = run(tmp_path / "kept", *words)
        seconds.append(took)
        plans.append(printed)
    assert all(plan == plans[0] for plan in plans[1:])
    later = min(seconds[1:])
    assert len(plans[0]) > 200
    print(f"\n  first plan {seconds[0]:.1f} s, later {later:.1f} s: {seconds[0] / later:.2f} times as long")


def test_compiling_beside_numbas_own_way(tmp_path: Path, shown: bool) -> None:
    """Each kernel compiles either way; only the quickest where nobody looks at the figures."""
    for name in warm.KERNELS if shown else ("clearance",):
        script = COMPILE.format(name=name)
        ours = float(run(tmp_path / f"{name}-ours", "-c", script)[1])
        own = float(run(tmp_path / f"{name}-own", "-c", OWN_WAY + script)[1])
        assert all(any((tmp_path / f"{name}-{way}").rglob("*.nbc")) for way in ("ours", "own"))
        print(f"\n  {name:<20} {ours:.1f} s of one core, {own:.1f} s in numba's own way: {ours / own:.2f} of it")
