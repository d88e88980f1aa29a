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


def run(*arguments: str | Path, stdin: str | bytes = "", folder: Path | None = None) -> Result:
    """Run a command and return what it left behind.

    Parameters
    ----------
    *arguments : str or Path
        What follows ``spadework``.
    stdin : str or bytes
        What is pasted.
    folder : Path, optional
        Folder to stand in.
    """
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    given = stdin.encode() if isinstance(stdin, str) else stdin
    pasted = io.TextIOWrapper(io.BytesIO(given), encoding="utf-8")
    with (
        mock.patch.multiple(sys, stdout=out, stderr=err, stdin=pasted),
        contextlib.chdir(folder or Path.cwd()),
        mock.patch.dict(os.environ, {"COLUMNS": "100"}),
    ):
        status = main([str(argument) for argument in arguments])
    texts = []
    for stream in (out, err):
        stream.flush()
        raw = stream.detach()
        assert isinstance(raw, io.BytesIO)
        texts.append(raw.getvalue().decode("utf-8"))
    return Result(status, *texts)


def says_no_traceback(result: Result) -> bool:
    """Say whether a result shows no sign of a program that broke down."""
    return not any(sign in result.out + result.err for sign in ("Traceback", "Error(", ".py"))
