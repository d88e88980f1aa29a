"""Test of what a plan says where luck cannot be weighed: on a raster."""

from __future__ import annotations

from pathlib import Path

from command_line import run

SAMPLE = Path(__file__).parents[1] / "sample_surveys" / "paddock-raster"


def test_expected_rank_on_a_raster_is_said_not_to_be_worked_out(tmp_path: Path) -> None:
    """Asked for the spot of least expected cost on a raster, the plan says that it ranks as drawn."""
    for file in SAMPLE.iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    site = tmp_path / "site.toml"
    text = site.read_text(encoding="utf-8")
    site.write_text(text.replace('least = "digging"', 'least = "digging"\nrank = "expected"'), encoding="utf-8")
    result = run("plan", tmp_path, "--out", tmp_path / "out")
    assert result.status == 0, result.err
    assert 'rank = "expected" asks for is not worked out for a raster' in " ".join((result.out + result.err).split())
