"""Site files written for a test, and the faults that loading them tells."""

from __future__ import annotations

from pathlib import Path

import pytest

from spadework.errors import InputError
from spadework.site import Site, load_site

START = """\
[site]
units = "m"

[[readings]]
file = "shots.csv"

"""


def write_site(folder: Path, text: str) -> Path:
    """Write a site file and an empty file of readings beside it."""
    (folder / "shots.csv").write_text("point,east,north,level\n", encoding="utf-8")
    file = folder / "site.toml"
    file.write_text(text, encoding="utf-8")
    return file


def load(folder: Path, text: str) -> Site:
    """Load a site file with that text."""
    return load_site(write_site(folder, text))


def faults_of(folder: Path, text: str) -> list[str]:
    """Every fault of a site file with that text, without the folder."""
    with pytest.raises(InputError) as caught:
        load(folder, text)
    return [str(fault).replace(f"{folder}/", "") for fault in caught.value.faults]


def one_fault(folder: Path, text: str) -> str:
    """The only fault of a site file with that text."""
    faults = faults_of(folder, text)
    assert len(faults) == 1, faults
    return faults[0]
