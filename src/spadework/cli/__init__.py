"""The command line: one thin module per command, loaded when it is called for.

Results go to standard output, progress and warnings to standard error. Exit status 0: done; 1: the survey or the
limits do not allow an answer; 2: the call or a file is wrong; 130: interrupted.
"""

from __future__ import annotations

import gc
import os
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from importlib import import_module
from typing import cast

import click

from spadework import __version__
from spadework.errors import InputError, SpadeworkError

__all__ = ["COMMANDS", "main", "root"]

# In the order of the work. Each is a module of this package with a click command of the same name.
COMMANDS = ("new", "level", "peg", "ground", "place", "plan", "check", "scan")

INTERRUPTED = 130
PIPE_CLOSED = 141  # what a shell reports for a program that wrote into a closed pipe
WRONG_CALL = 2


@dataclass(frozen=True, slots=True)
class Program:
    """What a command may know of the process that it runs in.

    Parameters
    ----------
    whole : bool
        Whether the command is all that the process does, so that it may start another one to help.
    """

    whole: bool


class _Commands(click.Group):
    """A group whose commands are imported one by one, so that ``--help`` needs nothing but click."""

    def list_commands(self, ctx: click.Context) -> list[str]:  # noqa: ARG002 - click's signature
        """Return the names, in the order of the work."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:  # noqa: ARG002 - the same
        """Import and return one command."""
        if cmd_name not in COMMANDS:
            return None
        return cast("click.Command", getattr(import_module(f"spadework.cli.{cmd_name}"), cmd_name))

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command, and name the nearest one when there is none of that name."""
        name = args[0]
        if name not in COMMANDS and not name.startswith("-"):
            import difflib

            near = difflib.get_close_matches(name, COMMANDS, n=1)
            hint = f"did you mean {near[0]!r}?" if near else f"the commands are {', '.join(COMMANDS)}"
            ctx.fail(f"there is no command {name!r}: {hint}")
        return super().resolve_command(ctx, args)


@click.group(
    "spadework",
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="""\b
Start here:
  spadework new my-garden         # a small site that runs as it is
  spadework plan my-garden        # spot, levels, volumes and stakes, into the folder "plan"

SITE is a site file or the folder that holds site.toml. Results go to standard output, warnings and progress to
standard error. Exit status: 0 done; 1 the survey or the limits do not allow an answer; 2 the call or a file is wrong.
""",
)
@click.version_option(__version__, message="%(prog)s %(version)s")
def root() -> None:
    """From a few level readings to a level base: where to put it, how high, and how deep to dig at each stake."""


@contextmanager
def _without_collecting() -> Iterator[None]:
    """Leave rings of garbage lie for as long as a command runs: looking for them took a fifth of the time of a plan.

    What is large holds no rings and goes at once, as ever. Drawings leave some 50 MB of them.
    """
    collects = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if collects:
            gc.enable()


@_without_collecting()
def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    arguments : sequence of str, optional
        What follows the name of the program; that of the process by default.

    Returns
    -------
    int
        The exit status.
    """
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):  # a sign that the terminal lacks is no reason to stop
            stream.reconfigure(errors="replace")
    try:
        given = list(sys.argv[1:] if arguments is None else arguments)
        with root.make_context("spadework", given, obj=Program(whole=arguments is None)) as context:
            root.invoke(context)
        sys.stdout.flush()
    except click.exceptions.Exit as leaving:
        return leaving.exit_code
    except click.ClickException as error:
        error.show()
        return WRONG_CALL
    except (click.Abort, KeyboardInterrupt):
        click.echo("Interrupted. Nothing was written.", err=True)
        return INTERRUPTED
    except SpadeworkError as error:
        _report(error)
        return error.exit_status
    except BrokenPipeError:
        # Nothing can be said any more; without this the interpreter would complain once again when it closes.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return PIPE_CLOSED
    except OSError as error:
        named = f"{error.filename}: " if error.filename else ""
        click.echo(f"{named}{error.strerror or error}. Nothing was written.", err=True)
        return WRONG_CALL
    return 0


def _report(error: SpadeworkError) -> None:
    """Say what stopped the work: one fault to a line, and how many where there are several."""
    click.echo(str(error), err=True)
    if isinstance(error, InputError) and len(error.faults) > 1:
        click.echo(f"{len(error.faults)} faults. Nothing was written.", err=True)
