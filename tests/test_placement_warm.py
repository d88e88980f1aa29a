"""Compiling ahead: only what is needed and not kept, and never waited for without end."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from grounds import rough, scattered
from naive_placement import random_yard
from spadework.earthwork.arrays import GroundArrays, ground_arrays
from spadework.earthwork.bank_levels_kernel import solve_banked
from spadework.pad import Edge, Pad
from spadework.placement import GOALS, Limits, ProofEffort, bound_plain, find_banked_placement, warm
from spadework.placement.banked_kernel import bound_banked
from spadework.placement.mesh import bound_mesh

numba = pytest.importorskip("numba")

BANKED = Pad.rectangle(4.0, 3.0, edge=Edge("bank", "", 1 / 1.5, 1 / 2.0))
pytestmark = pytest.mark.skipif(not warm.COMPILED, reason="nothing is compiled here")


@pytest.fixture(autouse=True)
def _nothing_running(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(warm, "_running", {})


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """Processes asked for; each ends at once without compiling."""
    commands: list[list[str]] = []

    class Quick(subprocess.Popen):
        def __init__(self, command: list[str], **rest: object) -> None:
            commands.append(command)
            super().__init__([sys.executable, "-c", "pass"], **rest)

    monkeypatch.setattr(warm.subprocess, "Popen", Quick)
    return commands


def test_nothing_is_started_when_the_code_is_kept(asked: list[list[str]]) -> None:
    """After the kernels have run once their code is kept, and no process is started."""
    names = [*warm.FIRST_NEEDED, "bounds"]
    warm.compile_kernels(names)
    assert all(map(warm.is_kept, names))
    assert not warm.start_compiling()
    assert not warm.start_compiling(["bounds"])
    assert asked == []


def test_only_what_is_not_kept_is_compiled_in_the_order_of_need(
    asked: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One process compiles what is missing, once, and the proof's own kernel has a process of its own."""
    monkeypatch.setattr(warm, "is_kept", lambda name: name == "levels")
    assert warm.start_compiling()
    assert not warm.start_compiling()
    assert warm.start_compiling(["bounds"])
    for name in ("clearance", "grounds", "bounds"):
        warm.await_kernels(name)
    assert [command[-1].rpartition("(")[2] for command in asked] == ["['clearance', 'grounds'])", "['bounds'])"]
    assert all(command[0] == sys.executable for command in asked)


def test_banks_are_compiled_only_for_a_pad_that_has_them(
    asked: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Vertical sides start the bounds of their goal; banks their levels, and beside them both bounds that they use."""
    monkeypatch.setattr(warm, "is_kept", lambda _: False)
    warm.start_bounds(Pad.rectangle(3.0, 2.0), 0.0, "free")
    warm.await_kernels("bounds")
    warm.start_bounds(BANKED, 0.0, "flush")
    for name in ("levels of banks", "bounds", "bounds of banks"):
        warm.await_kernels(name)
    assert [command[-1].rpartition("(")[2] for command in asked] == [
        "['bounds'])",
        "['levels of banks'])",
        "['bounds', 'bounds of banks'])",
    ]


def test_a_search_with_banks_compiles_nothing_besides() -> None:
    """What is compiled ahead is for the types that search and proof come with: one signature a kernel."""
    warm.compile_kernels(["levels of banks", "bounds of banks"])
    goal = GOALS["digging"]
    find_banked_placement(scattered(40, rough()), BANKED, Limits(), goal, 0.9, effort=ProofEffort(work=1000))
    assert len(solve_banked.signatures) == 1
    assert len(bound_banked.signatures) == 1


def test_code_older_than_its_module_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the folder is empty, or holds code from before the module was last written, it is to be compiled anew."""
    monkeypatch.setattr(bound_plain.bound_plain._cache, "_cache_path", str(tmp_path))
    assert not warm.is_kept("bounds")
    (tmp_path / "bound_plain.bound_plain-1.py311.1.nbc").touch()
    assert warm.is_kept("bounds")
    os.utime(tmp_path / "bound_plain.bound_plain-1.py311.1.nbc", (0, 0))
    assert not warm.is_kept("bounds")


def test_a_process_that_dies_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """Waiting ends with the process, whether it has compiled anything or not."""
    monkeypatch.setattr(warm, "is_kept", lambda _: False)
    warm._running["bounds"] = process = subprocess.Popen([sys.executable, "-c", "raise SystemExit(3)"])
    warm.await_kernels("bounds", "levels")
    assert process.returncode == 3


def test_a_process_that_does_not_end_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    """After the longest wait the process is ended, and the kernel is compiled here."""
    monkeypatch.setattr(warm, "is_kept", lambda _: False)
    monkeypatch.setattr(warm, "LONGEST", 0.0)
    warm._running["bounds"] = process = subprocess.Popen([sys.executable, "-c", "import time; time.sleep(60)"])
    warm.await_kernels("bounds")
    assert process.returncode not in {0, None}


def test_the_search_goes_on_when_no_process_can_be_had(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a process the kernel is compiled later, in this one."""

    def refused(*_: object, **__: object) -> None:
        raise OSError

    monkeypatch.setattr(warm, "is_kept", lambda _: False)
    monkeypatch.setattr(warm.subprocess, "Popen", refused)
    assert not warm.start_compiling()
    warm.await_kernels("clearance", "levels")


@pytest.mark.parametrize(
    ("wall", "finish", "name"),
    [
        (0.0, "free", "bounds"),
        (0.0, "fixed", "bounds"),
        (0.0, "flush", "bounds with edges"),
        (1.0, "free", "bounds with edges"),
    ],
)
def test_the_goal_says_which_bounds_are_compiled(wall: float, finish: str, name: str) -> None:
    """Only a goal that counts the edge, and a finish that goes with it, start with the larger kernel."""
    assert warm.bounds_for(wall, finish) == name


def test_the_mesh_of_a_proof_is_the_same_kind_of_table_as_its_ground() -> None:
    """A goal that counts barrowing hands its mesh to the kernels of the search: one kind, compiled once."""
    ground = random_yard(1, 25, (7.0, 6.0))
    assert numba.typeof(GroundArrays(*bound_mesh(ground, 3.0)[:11])) == numba.typeof(ground_arrays(ground))
