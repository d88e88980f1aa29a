"""How the suite is run by several workers: kernels are compiled once beforehand, and a module stays with one worker."""

from __future__ import annotations

import gc
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from spadework.earthwork._compile import COMPILED
from spadework.write import second_process

WARM = Path(__file__).with_name("warm_kernels.py")
LONGEST = 300.0
"""Longest wait for the compiling; after that the workers do it themselves. [s]"""


def pytest_sessionstart(session: pytest.Session) -> None:
    """Compile what no machine code is kept of, before several workers each do it.

    Two processes at a time: on an empty cache every worker would compile the same kernels.
    """
    config = session.config
    if not COMPILED or hasattr(config, "workerinput") or not getattr(config.option, "numprocesses", None):
        return
    running = [
        subprocess.Popen([sys.executable, str(WARM), part], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        for part in ("proof", "search")
    ]
    for process in running:
        try:
            said = process.communicate(timeout=LONGEST)[1]
        except subprocess.TimeoutExpired:
            process.kill()
            continue
        if process.returncode:
            raise pytest.UsageError(f"{WARM.name} failed:\n{said.decode(errors='replace')}")


def pytest_collection_finish(session: pytest.Session) -> None:
    """Leave the thousands of tests out of every later search for garbage: they stay to the end."""
    gc.collect()
    gc.freeze()


@pytest.fixture(scope="session", autouse=True)
def one_process_draws(pytestconfig: pytest.Config) -> Iterator[None]:
    """Let each of several workers draw alone: a second process for each would find no core free."""
    if not hasattr(pytestconfig, "workerinput"):
        yield
        return
    with mock.patch.object(second_process, "CORES", sys.maxsize):
        yield


@pytest.fixture(scope="session")
def shown(pytestconfig: pytest.Config) -> bool:
    """Whether anybody sees what is printed (``-s``): only then does a benchmark run at its full size.

    What it asserts is asserted either way.
    """
    return bool(pytestconfig.getoption("capture") == "no")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Hand tests out in long runs, the rest of the longest to whoever is done first.

    By small turns, as is usual, the plan that a module shares among its tests would be made by every worker.
    """
    if config.getoption("dist") != "load":
        return None
    from xdist.scheduler import WorkStealingScheduling  # noqa: PLC0415 - only where several workers run

    return WorkStealingScheduling(config, log)
