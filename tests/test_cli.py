"""The command line as a whole: help, exit status, streams, and how it ends when it cannot go on."""

from __future__ import annotations

import gc
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from command_line import run
from spadework import __version__
from spadework.cli import COMMANDS

SPADEWORK = [sys.executable, "-m", "spadework.cli"]
BOOK = "point,BS (m),IS,FS,RL,note\nBM1,1.500,,,100.000,bench\nA,,1.200,,,\nB,1.100,,1.600,,\nBM1,,,1.000,,closed\n"


def test_help_names_every_command_with_what_it_does() -> None:
    """The first help names all commands, two calls to start with, and what the exit status means."""
    result = run("--help")
    assert result.status == 0
    for name in COMMANDS:
        assert f"\n  {name} " in result.out
    assert "spadework new my-garden" in result.out
    assert "Exit status: 0 done; 1" in result.out


@pytest.mark.parametrize("name", COMMANDS)
@pytest.mark.parametrize("option", ["-h", "--help"])
def test_help_of_a_command_has_examples_and_json(name: str, option: str) -> None:
    """The help of each command shows calls to copy, and that the result can be had for programs."""
    result = run(name, option)
    assert result.status == 0
    assert f"Examples:\n    spadework {name} " in result.out
    assert "--json" in result.out


def test_version_is_that_of_the_package() -> None:
    """``--version`` prints the name and the version."""
    assert run("--version").out == f"spadework {__version__}\n"


def test_nearest_command_is_named_when_it_is_misspelt() -> None:
    """A misspelt command is answered with the nearest one and exit status 2."""
    result = run("plna", "x")
    assert result.status == 2
    assert "did you mean 'plan'?" in result.err
    assert result.out == ""


@pytest.mark.parametrize(
    "arguments",
    [
        ("level",),
        ("level", "a", "b"),
        ("plan", ".", "--date", "3rd of May"),
        ("new", "x", "--kind", "sonar"),
        ("plan", "-x"),
    ],
    ids=["argument missing", "argument too many", "no date", "unknown kind", "unknown option"],
)
def test_status_is_two_when_the_call_is_wrong(arguments: tuple[str, ...]) -> None:
    """A wrong call has exit status 2, says how to get help, and prints no result."""
    result = run(*arguments)
    assert result.status == 2
    assert "--help" in result.err
    assert result.out == ""


def test_heavy_libraries_stay_away_when_help_is_asked_for() -> None:
    """Help needs none of the libraries that take long to load."""
    code = "import sys; from spadework.cli import main; main(['--help']); print(sorted(sys.modules), file=sys.stderr)"
    loaded = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stderr
    for library in ("numpy", "pandas", "scipy", "pydantic", "pint", "rasterio", "matplotlib", "numba", "shapely"):
        assert f"'{library}'" not in loaded


def test_module_is_run_as_the_command_is(tmp_path: Path) -> None:
    """The process ends with the exit status, result and complaint on their own streams."""
    good = subprocess.run([*SPADEWORK, "level", "-"], input=BOOK, capture_output=True, text=True, check=False)
    assert (good.returncode, good.stderr) == (0, "")
    assert "99.900" in good.stdout
    bad = subprocess.run([*SPADEWORK, "ground", str(tmp_path)], capture_output=True, text=True, check=False)
    assert (bad.returncode, bad.stdout) == (2, "")
    assert "site.toml" in bad.stderr


def test_process_is_quiet_when_the_reader_closes_the_pipe(tmp_path: Path) -> None:
    """Nothing is complained of when what reads the result has seen enough."""
    book = tmp_path / "book.csv"
    rows = "".join(f"P{n},,1.{n % 1000:03d},,,\n" for n in range(5000))
    book.write_text("point,BS (m),IS,FS,RL,note\nBM1,1.500,,,100.000,\n" + rows, encoding="utf-8")
    read_end, write_end = os.pipe()
    os.close(read_end)
    with os.fdopen(write_end, "w") as pipe:
        process = subprocess.run([*SPADEWORK, "level", str(book)], stdout=pipe, stderr=subprocess.PIPE, check=False)
    assert process.stderr == b""
    assert process.returncode == 141  # 128 + 13, what a shell reports for a closed pipe


def test_status_is_130_when_interrupted(monkeypatch: pytest.MonkeyPatch) -> None:
    """An interrupted command says so in one line and ends with 130, as a shell expects."""

    def interrupted(*_arguments: object, **_options: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("spadework.read.read_file", interrupted)
    result = run("level", "-")
    assert (result.status, result.out) == (130, "")
    assert result.err == "Interrupted. Nothing was written.\n"


def test_result_is_printed_when_the_terminal_lacks_a_sign() -> None:
    """A stream that does not know the root sign gets a question mark in its place, not a breakdown."""
    environment = {**os.environ, "PYTHONIOENCODING": "latin-1", "PYTHONUTF8": "0"}
    process = subprocess.run(
        [*SPADEWORK, "level", "-"], input=BOOK.encode(), capture_output=True, check=False, env=environment
    )
    assert process.returncode == 0, process.stderr
    assert "0.02 ft \xd7 ?n".encode("latin-1") in process.stdout


def test_json_is_whole_when_asked_for() -> None:
    """``--json`` prints one JSON document and nothing else on standard output."""
    result = run("level", "-", "--json", stdin=BOOK)
    assert json.loads(result.out)["unit"] == "m"


def test_rings_of_garbage_are_looked_for_again_when_a_command_is_over() -> None:
    """A command that is called from a program of somebody else leaves the collector as it was."""
    for collects in (True, False):
        (gc.enable if collects else gc.disable)()
        try:
            run("--version")
            assert gc.isenabled() is collects
        finally:
            gc.enable()
