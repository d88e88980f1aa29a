"""The page of commands says what the commands themselves say."""

from __future__ import annotations

import click
import pytest

from make_docs import COMMANDS_PAGE, command_reference
from spadework.cli import COMMANDS, root


def test_page_is_up_to_date() -> None:
    """The committed page is the one made now; ``python tests/make_docs.py`` writes it."""
    assert COMMANDS_PAGE.read_text(encoding="utf-8") == command_reference()


@pytest.mark.parametrize("name", COMMANDS)
def test_every_option_is_on_the_page_with_its_meaning(name: str) -> None:
    """Each command has a section, and each option of it a row that says something."""
    page = COMMANDS_PAGE.read_text(encoding="utf-8")
    section = page.partition(f"## `spadework {name}`")[2].partition("\n## ")[0]
    context = click.Context(root, info_name="spadework")
    command = root.get_command(context, name)
    assert command is not None
    for parameter in command.params:
        if isinstance(parameter, click.Option):
            (row,) = [line for line in section.splitlines() if line.startswith(f"| `{parameter.opts[-1]}")]
            assert len(row.split("|")[2].split()) >= 3
        else:
            assert str(parameter.metavar) in section
