"""``spadework place``: the proof beneath the spots, for people and for programs, and its check."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from command_line import run
from sample_sites import SAMPLES, place
from spadework.confidence.luck_words import NOT_THE_YARD

SITE = SAMPLES / "laser-yard"


def test_proof_is_printed_and_checked() -> None:
    """The proof has its sentence; the check says that it was done another way, on standard error."""
    done = run("place", SITE, "--check-proof")
    assert done.status == 0, done.err
    assert "\nNo spot allowed here needs less than" in done.out
    assert "Checked another way on 400 sampled placements" in done.err
    assert "none is better than the bound, and the best spot has the value given" in done.err


def test_proof_is_there_for_programs() -> None:
    """Value, bound, gap and boxes are numbers; the same site prints the same."""
    done = place("laser-yard", "--json")
    content = json.loads(done.out)
    proof = content["proof"]
    assert proof["finished"] is True
    assert 0 < proof["lower_bound"] <= proof["best"] == content["best"]["value"]
    assert proof["best"] - proof["lower_bound"] <= max(0.01 * proof["best"], 0.005) + 1e-9
    assert proof["nodes"] > 1000
    assert run("place", SITE, "--json").out == done.out


def test_luck_is_told_beside_the_proof_when_the_shots_say_how_sure_the_ground_is() -> None:
    """A table by what is to be expected, the plain sentence, and the same for programs."""
    done = place("laser-yard")
    assert "By what is to be expected, over 200 grounds" in done.out
    assert NOT_THE_YARD in done.out
    luck = json.loads(place("laser-yard", "--json").out)["luck"]
    assert luck["grounds"] == 200
    for spot in (luck["drawn"], *luck["others"]):
        assert spot["low"] <= spot["expected"] <= spot["high"]
        assert 0 <= spot["regret"] <= spot["regret_high"]


def test_spot_of_least_expected_cost_is_taken_when_the_site_file_asks(tmp_path: Path) -> None:
    """`rank` is read; a word that is none of the two is refused with both."""
    for file in Path(SITE).iterdir():
        shutil.copy(file, tmp_path)
    text = (tmp_path / "site.toml").read_text(encoding="utf-8")
    (tmp_path / "site.toml").write_text(text.replace("[goal]\n", '[goal]\nrank = "expekted"\n'), encoding="utf-8")
    refused = run("place", str(tmp_path))
    assert refused.status == 2
    assert '"drawn"' in refused.err
    assert "expekted" in refused.err
    (tmp_path / "site.toml").write_text(text.replace("[goal]\n", '[goal]\nrank = "expected"\n'), encoding="utf-8")
    taken = json.loads(run("place", str(tmp_path), "--json").out)
    least = taken["luck"]["least_expected"]
    assert (taken["best"]["east"], taken["best"]["north"]) == (least["east"], least["north"])


@pytest.mark.parametrize("words", ["digging", "digging,digging", "digging,beauty", "digging,wall,hours"])
def test_front_is_refused_when_it_names_no_two_goals(words: str) -> None:
    """One message with the goals there are."""
    done = run("place", SITE, "--front", words)
    assert done.status == 2
    assert "names no two goals" in done.err
    assert "digging, balance, cost, hours, wall, moved" in done.err


def test_front_has_no_raster_when_one_is_asked_for() -> None:
    """A front is a picture, before anything is read."""
    done = run("place", SITE, "--front", "digging,wall", "--map", "front.tif")
    assert done.status == 2
    assert "name ends in .svg or .png" in done.err


def test_front_says_which_points_are_proved_and_what_the_proof_says_of_the_others(tmp_path: Path) -> None:
    """Points of weighted sums are proved, those between were searched, and no value is below what is proved."""
    picture = tmp_path / "front.svg"
    told = json.loads(run("place", SITE, "--front", "digging,wall", "--map", picture, "--json").out)
    found = {point["found"] for point in told["front"]}
    assert found == {"proved", "searched"}
    assert "without a proof" in told["how"]
    for point in told["front"]:
        assert point["proved"] == (point["found"] == "proved") == (point["lower_bound"] is not None)
        assert 0 < point["first_at_least"] <= point["first"] + 1e-9
    text = picture.read_text(encoding="utf-8")
    assert "no spot: proved" in text
    assert "Open ones were searched, without a proof." in text


def test_what_if_tells_each_number_when_asked() -> None:
    """Soil that shrinks more makes less fill, so that a pad that buys none digs more."""
    told = json.loads(run("place", SITE, "--what-if", "--json").out)["what_if"]
    numbers = {number["name"]: number for number in told["numbers"]}
    shrink, strip = numbers["shrink of the soil"], numbers["depth of the strip"]
    assert shrink["low"]["value_at_chosen"] < shrink["high"]["value_at_chosen"]
    assert shrink["low"]["number"] < shrink["likely"] < shrink["high"]["number"]
    for end in (shrink["low"], shrink["high"]):
        assert end["best_value"] <= end["value_at_chosen"] + 1e-9
    assert shrink["changes"]
    assert not strip["changes"]
    assert strip["unit"] == "m"
    assert "not proved" in told["how"]


def test_proof_goes_on_to_the_gap_that_is_asked_for() -> None:
    """A tenth of a per cent takes more boxes than one per cent, and the bound is as near as was asked."""
    usual, fine = (json.loads(place("laser-yard", "--json", *more).out)["proof"] for more in ((), ("--gap", "0.1%")))
    assert fine["finished"] is True
    assert fine["best"] - fine["lower_bound"] <= max(0.001 * fine["best"], 0.0005) + 1e-9
    assert fine["lower_bound"] >= usual["lower_bound"]
    assert fine["nodes"] > usual["nodes"]


def test_proof_ends_when_its_time_is_up() -> None:
    """With next to no time the bound is poor but a bound, and the sentence says that it was stopped."""
    proof = json.loads(run("place", SITE, "--json", "--gap", "0.0001", "--seconds", "0.001").out)["proof"]
    assert proof["finished"] is False
    assert proof["lower_bound"] <= proof["best"]
    assert "The proof was stopped there" in proof["statement"]


def test_gap_and_seconds_that_are_none_are_refused_together() -> None:
    """Both faults at once, before the survey is read."""
    refused = run("place", SITE, "--gap", "150%", "--seconds", "soon")
    assert refused.status == 2
    assert "--gap 150% is no share" in refused.err
    assert "--seconds soon is no time" in refused.err
