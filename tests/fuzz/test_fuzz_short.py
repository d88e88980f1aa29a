"""A short run of the fuzzer at every test run: `python tests/fuzz/fuzz_readers.py` makes the long ones."""

from __future__ import annotations

from pathlib import Path

import pytest

from fuzz.fuzz_readers import SUFFIXES, blind, read_case, seeds

CASES = {"text": 80, "exchange": 50, "cloud": 30, "raster": 30, "outline": 50, "site": 50}


@pytest.mark.parametrize("target", SUFFIXES)
def test_broken_file_is_read_or_refused_in_words(target: str) -> None:
    """Mutations of sound files: no exception of another kind, no hang; some are read, some refused."""
    read, refused = blind(target, CASES[target], seed=1)
    assert read + refused == CASES[target]
    assert refused > 0


@pytest.mark.parametrize("target", SUFFIXES)
def test_some_seed_is_sound(target: str, tmp_path: Path) -> None:
    """The mutations begin with files that are read, or they would never come far."""
    assert any(read_case(target, case, tmp_path) for case in seeds(target))
