"""Run the command line inside the test's own process, as its user would, and keep what it says."""

from __future__ import annotations

import contextlib
import io
import os
import sys
from dataclasses import dataclass
from pathlib import Path
from unittest import mock

from spadework.cli import main
from spadework.plan import Plan
from spadework.write import results
from spadework.write.second_process import SecondProcess

__all__ = ["Result", "run", "says_no_traceback"]


@dataclass(frozen=True)
class Result:
    """What a command left behind.

    Parameters
    ----------
    status : int
        Exit status.
    out, err : str
        Standard output and standard error.
    """

    status: int
    out: str
    err: str


def run(*arguments: str | Path, stdin: str | bytes = "", folder: Path | None = None, drawn: bool = True) -> Result:
    """Run a command and return what it left behind.

    Parameters
    ----------
    *arguments : str or Path
        What follows ``spadework``.
    stdin : str or bytes
        What is pasted.
    folder : Path, optional
        Folder to stand in.
    drawn : bool
        Without it ``plan`` writes plan.json and its tables only: for a test that looks at nothing else, since drawing
        takes most of the time.
    """
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    given = stdin.encode() if isinstance(stdin, str) else stdin
    pasted = io.TextIOWrapper(io.BytesIO(given), encoding="utf-8")
    with (
        mock.patch.multiple(sys, stdout=out, stderr=err, stdin=pasted),
        contextlib.chdir(folder or Path.cwd()),
        mock.patch.dict(os.environ, {"COLUMNS": "100"}),
        contextlib.nullcontext() if drawn else mock.patch.object(results, "plan_files", _tables),
    ):
        status = main([str(argument) for argument in arguments])
    texts = []
    for stream in (out, err):
        stream.flush()
        raw = stream.detach()
        assert isinstance(raw, io.BytesIO)
        texts.append(raw.getvalue().decode("utf-8"))
    return Result(status, *texts)


def _tables(plan: Plan, second: SecondProcess | None = None) -> dict[str, bytes]:
    """The files of a plan that hold no drawing."""
    from spadework.write.plan_json import plan_bytes  # noqa: PLC0415 - as where all files are made
    from spadework.write.tables import csv_bytes, depths_table, levels_table, stakes_table  # noqa: PLC0415

    del second
    return {
        "plan.json": plan_bytes(plan),
        "stakes.csv": csv_bytes(stakes_table(plan)),
        "depths.csv": csv_bytes(depths_table(plan)),
        "levels.csv": csv_bytes(levels_table(plan)),
    }


def says_no_traceback(result: Result) -> bool:
    """Say whether a result shows no sign of a program that broke down."""
    return not any(sign in result.out + result.err for sign in ("Traceback", "Error(", ".py"))
