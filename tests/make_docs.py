"""Write ``docs/commands.md`` from the commands themselves: ``python tests/make_docs.py``."""

from __future__ import annotations

from pathlib import Path

import click

from spadework.cli import COMMANDS, root

COMMANDS_PAGE = Path(__file__).resolve().parents[1] / "docs" / "commands.md"

HEAD = """\
# The commands

This page is made from the commands themselves by `python tests/make_docs.py`, and a test checks that it is up to date.
"""


def command_reference() -> str:
    """Return the whole page."""
    context = click.Context(root, info_name="spadework", **root.context_settings)
    parts = [HEAD, _text(root), "", "| command | does |", "|---|---|"]
    for name in COMMANDS:
        command = root.get_command(context, name)
        assert command is not None, f"there is no command {name}"
        parts.append(f"| [`spadework {name}`](#spadework-{name}) | {command.get_short_help_str(limit=200)} |")
    parts += ["", _options(root, context), _examples(root)]
    for name in COMMANDS:
        command = root.get_command(context, name)
        assert command is not None
        own = click.Context(command, info_name=name, parent=context)
        parts += ["", f"## `spadework {name}`", "", f"```text\n{' '.join(_usage(command, own))}\n```", ""]
        parts += [_text(command), "", _options(command, own), _examples(command)]
    return "\n".join(parts).rstrip() + "\n"


def _usage(command: click.Command, context: click.Context) -> list[str]:
    """Return the usage in words."""
    return [context.command_path, *command.collect_usage_pieces(context)]


def _text(command: click.Command) -> str:
    """Return the help of a command as paragraphs, each on one line."""
    paragraphs = (command.help or "").split("\n\n")
    return "\n\n".join(" ".join(paragraph.split()) for paragraph in paragraphs)


def _options(command: click.Command, context: click.Context) -> str:
    """Return a table of the options."""
    rows = ["| option | meaning |", "|---|---|"]
    for parameter in command.get_params(context):
        record = parameter.get_help_record(context)
        if isinstance(parameter, click.Option) and record is not None:
            names, meaning = record
            rows.append(f"| `{names.replace('|', ', ')}` | {' '.join(meaning.split())} |")
    return "\n".join(rows)


def _examples(command: click.Command) -> str:
    """Return what stands below the options: blocks marked to be left as they are become code blocks."""
    parts = []
    for block in (command.epilog or "").strip().split("\n\n"):
        as_it_stands = block.startswith("\b\n")
        lines = block.removeprefix("\b\n").rstrip()
        indented = [line for line in lines.splitlines() if line.startswith("  ")]
        if as_it_stands and indented:
            head = lines.splitlines()[0]
            parts.append(f"\n{head}\n\n```sh\n{chr(10).join(line.strip() for line in indented)}\n```")
        elif lines:
            parts.append("\n" + " ".join(lines.split()))
    return "\n".join(parts)


def main() -> None:
    """Write the page."""
    COMMANDS_PAGE.write_text(command_reference(), encoding="utf-8")


if __name__ == "__main__":
    main()
