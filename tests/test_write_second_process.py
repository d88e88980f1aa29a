"""The drawings made by a second process: the same bytes, and nothing lost when it fails."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from types import SimpleNamespace

import pytest

from sample_plan import sample_plan
from sample_sites import inputs_of, plan_of
from spadework.plan import make_plan
from spadework.site import load_site
from spadework.survey import load_survey, plan_inputs
from spadework.write import plan_files, second_process
from spadework.write.plan_json import plan_bytes
from spadework.write.second_process import SecondProcess, draw_there


@pytest.fixture
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine on which two processes are worth their while."""
    monkeypatch.setattr(os, "cpu_count", lambda: 2)
    monkeypatch.setattr(second_process, "CORES", 2)


@pytest.mark.usefixtures("two_cores")
def test_files_are_the_same_when_a_second_process_draws(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every file has the bytes that one process alone gives it, in the same order; the drawings come from the other.

    It may be given the plan before its luck is known.
    """
    plan, came = plan_of("laser-yard"), []
    assert plan.luck is not None
    with SecondProcess() as second:
        kept = second.drawn
        monkeypatch.setattr(second, "drawn", lambda: came.append(kept()) or came[0])
        second.hand_over(replace(plan, luck=None))
        both = plan_files(plan, second)
    alone = plan_files(plan)
    assert came[0] is not None
    assert 5 <= len(came[0]) < len(alone)
    assert list(both) == list(alone)
    assert both == alone


def test_a_plan_is_settled_before_its_luck_only_when_that_changes_nothing_else() -> None:
    """What is handed over early is the plan itself less its luck; where luck may take another spot, nothing is."""
    inputs, early = inputs_of("laser-yard"), []
    plan = make_plan(inputs, settled=early.append)
    (first,) = early
    assert first.luck is None
    assert plan.luck is not None
    assert first.search is plan.search
    assert plan_bytes(replace(plan, luck=None)) == plan_bytes(first)
    make_plan(replace(inputs, rank="expected"), settled=early.append)
    assert len(early) == 1


@pytest.mark.usefixtures("two_cores")
def test_another_plan_than_the_one_handed_over_is_drawn_here() -> None:
    """A process that is busy with another plan is let go of."""
    with SecondProcess() as second:
        process = second._process
        second.hand_over(sample_plan())
        second.hand_over(plan_of("laser-yard"))
        assert second.drawn() is None
        assert not process.is_alive()


@pytest.mark.parametrize(
    "edge", ['{ kind = "timber", beam = "100 x 150" }', '{ kind = "bank", cut = "1:1.5", fill = "1:2" }']
)
def test_plan_of_a_whole_site_can_be_handed_over(edge: str, tmp_path: Path) -> None:
    """All of a plan that a command makes goes through a pipe: what does not is drawn by one process, in silence."""
    for file in (Path(__file__).parents[1] / "sample_surveys" / "laser-yard").iterdir():
        (tmp_path / file.name).write_bytes(file.read_bytes())
    text = (tmp_path / "site.toml").read_text(encoding="utf-8").replace('{ kind = "timber", beam = "100 x 150" }', edge)
    (tmp_path / "site.toml").write_text(text.replace('{ exposed-edge = "600 mm" }', "{}"), encoding="utf-8")
    site = load_site(tmp_path)
    plan = make_plan(plan_inputs(site, load_survey(site, allow_misclosure=False), date="2027-03-01"))
    assert plan.what_if
    there = pickle.loads(pickle.dumps(plan))  # noqa: S301 -- our own bytes
    assert [effect.assumption for effect in there.what_if] == [effect.assumption for effect in plan.what_if]
    with pytest.raises(RuntimeError, match="stayed in the process"):
        there.what_if[0].assumption.objective(0.1)


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
        second.hand_over(SimpleNamespace(search=lambda: None))  # type: ignore[arg-type]
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
