"""``spadework place``: the proof beneath the spots, for people and for programs, and its check."""

from __future__ import annotations

import json
from pathlib import Path

from command_line import run

SITE = Path(__file__).parents[1] / "sample_surveys" / "laser-yard"


def test_proof_is_printed_and_checked() -> None:
    """The sentence of the proof ends the output; the check says that it was done another way, on standard error."""
    done = run("place", SITE, "--check-proof")
    assert done.status == 0, done.err
    assert done.out.splitlines()[-1].startswith("No spot allowed here needs less than")
    assert "Checked another way on 400 sampled placements" in done.err
    assert "none is better than the bound, and the best spot has the value given" in done.err


def test_proof_is_there_for_programs() -> None:
    """Value, bound, gap and boxes are numbers; the same site prints the same."""
    done = run("place", SITE, "--json")
    assert done.status == 0, done.err
    content = json.loads(done.out)
    proof = content["proof"]
    assert proof["finished"] is True
    assert 0 < proof["lower_bound"] <= proof["best"] == content["best"]["value"]
    assert proof["best"] - proof["lower_bound"] <= max(0.01 * proof["best"], 0.005) + 1e-9
    assert proof["nodes"] > 1000
    assert run("place", SITE, "--json").out == done.out
