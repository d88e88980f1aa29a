"""Real lidar tiles for the tests: those in the source distribution of laspy, fetched once and kept in a cache.

The tiles carry the licence of that distribution (BSD 2-Clause); they are read, never copied into this project.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tarfile
import tempfile
from pathlib import Path

import pytest

RELEASE = "2.7.0"
YARD = "file_with_both_wkt_and_geotiff_vlrs.las"
"""25,408 points over a yard of 60 by 40 ft in Nebraska, with a house, a tree and a lawn; US survey feet, classified."""
TOWN = "autzen_trim.laz"
"""110,000 points over 360 by 170 m of a town in Oregon; international feet, partly classified."""


def cache() -> Path:
    """Folder that fetched files are kept in."""
    base = os.environ.get("XDG_CACHE_HOME") or os.environ.get("LOCALAPPDATA") or str(Path.home() / ".cache")
    return Path(base) / "spadework-tests" / f"laspy-{RELEASE}"


def tile(name: str) -> Path:
    """Return a tile, fetched on first use; skip, and say why, where the registry cannot be reached.

    On continuous integration, where the registry is always to be had, that is a failure.
    """
    path = cache() / name
    if path.is_file():
        return path
    path.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        call = [sys.executable, "-m", "pip", "download", "--quiet", "--no-deps"]
        call += ["--no-binary", "laspy", "--dest", folder, f"laspy=={RELEASE}"]
        done = subprocess.run(call, capture_output=True, text=True, timeout=240, check=False)
        archives = sorted(Path(folder).glob("laspy-*.tar.gz"))
        if not archives:
            reason = f"the source distribution of laspy {RELEASE} cannot be fetched: {done.stderr.strip()[-300:]}"
            if os.environ.get("CI"):
                pytest.fail(reason)
            pytest.skip(reason)
        with tarfile.open(archives[0]) as archive:
            for wanted in (YARD, TOWN):
                member = archive.extractfile(f"laspy-{RELEASE}/tests/data/{wanted}")
                assert member is not None
                part = path.parent / f"{wanted}.{os.getpid()}"
                part.write_bytes(member.read())
                part.replace(path.parent / wanted)
    return path
