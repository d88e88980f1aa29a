"""Compiling ahead: only where nothing is kept, and never waited for without end."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

from spadework.placement import bound_kernel, warm


def test_nothing_is_started_when_the_code_is_kept() -> None:
    """After the kernel has run once its code is kept, and no process is started."""
    warm.compile_bounds()
    warm.compile_grounds()
    assert warm.bounds_are_kept()
    assert warm.grounds_are_kept()
    assert not warm.start_compiling()


@pytest.mark.skipif(not warm.COMPILED, reason="nothing is compiled here")
def test_a_process_is_started_and_awaited_when_nothing_is_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the folder of kept code is empty, one process is started; waiting for it ends with it."""
    monkeypatch.setattr(bound_kernel.bound_boxes._cache, "_cache_path", str(tmp_path))
    monkeypatch.setattr(warm, "grounds_are_kept", lambda: True)
    asked: list[list[str]] = []

    class Quick(subprocess.Popen):
        def __init__(self, command: list[str], **rest: object) -> None:
            asked.append(command)
            super().__init__([sys.executable, "-c", "pass"], **rest)

    monkeypatch.setattr(warm.subprocess, "Popen", Quick)
    assert not warm.bounds_are_kept()
    assert warm.start_compiling()
    assert not warm.start_compiling()
    warm.await_bounds()
    assert len(asked) == 1
    assert asked[0][0] == sys.executable
    assert not warm._running


@pytest.mark.skipif(not warm.COMPILED, reason="nothing is compiled here")
def test_grounds_have_a_process_of_their_own_when_nothing_is_kept(monkeypatch: pytest.MonkeyPatch) -> None:
    """The proof does not wait for what only luck needs."""
    asked: list[list[str]] = []

    class Quick(subprocess.Popen):
        def __init__(self, command: list[str], **rest: object) -> None:
            asked.append(command)
            super().__init__([sys.executable, "-c", "pass"], **rest)

    monkeypatch.setattr(warm, "grounds_are_kept", lambda: False)
    monkeypatch.setattr(warm, "bounds_are_kept", lambda: True)
    monkeypatch.setattr(warm.subprocess, "Popen", Quick)
    assert not warm.start_compiling()
    warm.await_grounds()
    assert len(asked) == 1
    assert "compile_grounds" in asked[0][-1]
    assert not warm._grounds


def test_the_search_goes_on_when_no_process_can_be_had(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without a process the kernel is compiled later, in this one."""

    def refused(*_: object, **__: object) -> None:
        raise OSError

    monkeypatch.setattr(warm, "bounds_are_kept", lambda: False)
    monkeypatch.setattr(warm.subprocess, "Popen", refused)
    assert not warm.start_compiling()
    warm.await_bounds()
