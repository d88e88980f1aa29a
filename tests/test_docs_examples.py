"""The README and the tutorial say what the commands really print.

A block fenced as ``console`` is a session: a line that starts with ``$`` is run, and the lines below it are what it
must print. ``...`` alone on a line stands for any number of lines. A block fenced as ``toml`` or ``text`` whose first
line is ``# file: NAME`` is written to that file before the next session runs.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tomllib
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
PAGES = [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
FENCE = re.compile(r"^```(\w+)\n(.*?)^```$", flags=re.MULTILINE | re.DOTALL)


@dataclass(frozen=True)
class Step:
    """A command and what it must print."""

    command: str
    expected: str


def sessions(page: Path) -> list[tuple[str, str]]:
    """The fenced blocks of a page: their language and text."""
    return FENCE.findall(page.read_text(encoding="utf-8"))


def steps(block: str) -> list[Step]:
    """The commands of a session and the output below each."""
    found: list[Step] = []
    for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
        command, _, rest = part.partition("\n")
        while command.endswith("\\"):
            more, _, rest = rest.partition("\n")
            command = f"{command[:-1].rstrip()} {more.strip()}"
        found.append(Step(command, rest.rstrip()))
    return found


def matches(expected: str, printed: str) -> bool:
    """Whether the output is as the page says, with ``...`` for lines left out."""
    pattern = "\n".join(
        r"[\s\S]*?" if line.strip() == "..." else re.escape(line.rstrip()) for line in expected.splitlines()
    )
    plain = "\n".join(line.rstrip() for line in printed.strip("\n").splitlines())
    return re.fullmatch(pattern, plain) is not None


def test_matching_is_strict_when_a_line_differs() -> None:
    """The comparison itself can fail."""
    assert matches("a\n...\nb", "a\nx\ny\nb")
    assert not matches("a\nb", "a\nc")
    assert not matches("a", "a\nb")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_sessions_on_the_page_print_what_it_says(page: Path, tmp_path: Path) -> None:
    """Every command of every session prints what the page shows."""
    shutil.copytree(ROOT / "sample_surveys", tmp_path / "sample_surveys")
    env = os.environ | {"PATH": f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}", "COLUMNS": "100"}
    for language, block in sessions(page):
        first, _, rest = block.partition("\n")
        if first.startswith("# file: "):
            target = tmp_path / first.removeprefix("# file: ").strip()
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_text(rest, encoding="utf-8")
        if language != "console":
            continue
        for step in steps(block):
            done = subprocess.run(
                ["bash", "-c", step.command],
                cwd=tmp_path,
                env=env,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                timeout=120,
                check=False,
            )
            assert matches(step.expected, done.stdout), (
                f"{page.name}: {step.command}\n--- the page says\n{step.expected}\n--- it printed\n{done.stdout}"
            )


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_toml_blocks_on_the_page_are_toml(page: Path) -> None:
    """Every block of TOML parses."""
    for language, block in sessions(page):
        if language == "toml":
            tomllib.loads(block)


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    """Every relative link and picture of the page is there."""
    text = page.read_text(encoding="utf-8")
    for target in re.findall(r"\]\(([^)#\s]+)(?:#[^)]*)?\)", text):
        if not target.startswith(("http:", "https:", "mailto:")):
            assert (page.parent / target).exists(), f"{page.name} points to {target}"


def test_readme_opens_with_the_job_and_two_commands() -> None:
    """The README's first paragraph is prose, and its first two shell blocks are the two commands."""
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    opening = text.split("\n\n")[1]
    assert len(opening.split()) > 40
    assert not opening.startswith(("#", "!", "-", "`"))
    blocks = [block for language, block in sessions(ROOT / "README.md") if language == "sh"]
    assert "spadework plan sample_surveys/" in blocks[0]
    assert "pytest" in blocks[1]
