"""Half of the sheets drawn by a second process: the same bytes, and nothing lost when it fails."""

from __future__ import annotations

import os
import subprocess
import sys
from multiprocessing import get_context

import pytest

from sample_plan import sample_plan
from spadework.write import plan_files, second_process
from spadework.write.second_process import SecondProcess, draw_there


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine on which two processes are worth their while."""
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(second_process, "CORES", 2)


@pytest.mark.usefixtures("two_cores")
def test_files_are_the_same_when_a_second_process_draws_half(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every file has the bytes that one process alone gives it, in the same order, and half come from the other."""
    plan, came = sample_plan(), []
    with SecondProcess() as second:
        kept = second.drawn
        monkeypatch.setattr(second, "drawn", lambda: came.append(kept()) or came[0])
        both = plan_files(plan, second)
    alone = plan_files(plan)
    assert came[0] is not None
    assert 5 <= len(came[0]) < len(alone)
    assert list(both) == list(alone)
    assert both == alone


@pytest.mark.usefixtures("two_cores")
def test_nothing_is_drawn_there_when_the_second_process_dies() -> None:
    """One that is killed before it has drawn anything gives nothing, and the first process does without."""
    with SecondProcess() as second:
        second._process.kill()
        second._process.join()
        second.hand_over(sample_plan())
        assert second.drawn() is None


@pytest.mark.usefixtures("two_cores")
def test_hand_over_lets_go_of_the_process_when_a_plan_cannot_be_sent() -> None:
    """What cannot be put into a pipe is drawn here, and the process does not stay behind."""
    with SecondProcess() as second:
        process = second._process
        second.hand_over(lambda: None)  # type: ignore[arg-type]
        assert second.drawn() is None
        assert not process.is_alive()


def test_draw_there_sends_nothing_when_drawing_fails() -> None:
    """An error there is no message of its own: the first process meets the same one and reports it."""
    here, there = get_context("spawn").Pipe()
    here.send("no plan")
    draw_there(there)
    assert here.recv() is None


def test_no_process_starts_when_there_is_one_core(monkeypatch: pytest.MonkeyPatch) -> None:
    """On one core a second process would only take turns with the first."""
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with SecondProcess() as second:
        assert second._pipe is None
        second.hand_over(sample_plan())
        assert second.drawn() is None


def test_an_interrupted_process_ends_when_the_pipe_is_closed() -> None:
    """A first process that has stopped leaves none behind."""
    here, there = get_context("spawn").Pipe()
    here.close()
    assert draw_there(there) is None  # type: ignore[func-returns-value]


def test_the_module_runs_as_a_program() -> None:
    """``python -m spadework`` is the command line."""
    run = subprocess.run(
        [sys.executable, "-m", "spadework", "--version"], capture_output=True, text=True, check=True, timeout=60
    )
    assert run.stdout.startswith("spadework ")
