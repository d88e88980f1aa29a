"""The shape of the package: one direction of imports, each foreign library behind its own door, small modules."""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

import spadework

PACKAGE = Path(spadework.__file__).parent
ROOT = Path(__file__).parents[1]
MODULES = sorted(path for path in PACKAGE.rglob("*.py"))

# Earliest first. A module imports only from earlier layers, or from its own component.
LAYERS: tuple[tuple[str, ...], ...] = (
    ("errors",),
    ("units", "factors", "readings"),
    ("shots",),
    ("adjust",),
    ("levels", "positions", "pad"),
    ("ground", "formation"),
    ("earthwork",),
    ("placement",),
    ("haul", "build", "stakeout"),
    ("confidence",),
    ("fieldcheck",),
    ("plan",),
    ("site", "read", "write"),
    ("survey",),
    ("cli", "web"),
    ("__main__",),
)
RANK = {component: rank for rank, layer in enumerate(LAYERS) for component in layer}
# `factors` may read units: both stand in the first layer of the design, in this order.
WITHIN_A_LAYER = {("factors", "units")}

DOORS: dict[str, tuple[str, ...]] = {
    "pint": ("units",),
    "pandas": ("readings", "read", "write"),
    "pyproj": ("read", "write"),
    "rasterio": ("read", "write"),
    "laspy": ("read", "write"),
    "pydantic": ("site",),
    "pydantic_core": ("site",),
    "click": ("cli", "web"),
    "matplotlib": ("write",),
    "reportlab": ("write",),
    "pypdf": ("write",),
    "ot": ("haul",),
    "numba": ("earthwork", "placement"),
    "affine": ("read", "write"),
    "threadpoolctl": ("ground",),
    "pythoncdt": ("ground",),
    "defusedxml": ("read",),
}
EVERYWHERE = {"numpy", "scipy"}
ONLY_HERE = {"shapely": ("placement", "read", "ground", "write", "haul", "earthwork")}


def component(path: Path) -> str:
    """Name of the component that a file of the package belongs to."""
    part = path.relative_to(PACKAGE).parts[0]
    name = part.removesuffix(".py")
    return re.sub(r"^_?(site|units|plan|stakeout|survey|readings|pad)_\w+$", r"\1", name)


def imports(path: Path) -> Iterator[tuple[int, str]]:
    """Every module imported anywhere in a file, also inside functions, with its line."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path} line {node.lineno}: relative import"
            yield node.lineno, node.module or ""


def ids(path: Path) -> str:
    """What a test is called after the module it looks at."""
    return str(path.relative_to(PACKAGE))


@pytest.mark.parametrize("path", MODULES, ids=ids)
def test_imports_point_backwards_when_layers_are_ordered(path: Path) -> None:
    """A module imports only from earlier layers."""
    mine = component(path)
    if mine == "__init__":
        return
    assert mine in RANK, f"{path.name} belongs to no layer: say where it stands in tests/test_architecture.py"
    for line, module in imports(path):
        parts = module.split(".")
        if parts[0] != "spadework" or len(parts) == 1:
            continue
        theirs = component(PACKAGE / parts[1])
        allowed = theirs == mine or RANK[theirs] < RANK[mine] or (mine, theirs) in WITHIN_A_LAYER
        assert allowed, f"{path} line {line}: {mine} may not import {theirs}"


@pytest.mark.parametrize("path", MODULES, ids=ids)
def test_foreign_libraries_come_in_by_their_own_door(path: Path) -> None:
    """A foreign library is imported only where the design lets it in."""
    mine = component(path)
    for line, module in imports(path):
        library = module.split(".")[0]
        if library in sys.stdlib_module_names or library in EVERYWHERE | {"spadework"}:
            continue
        doors = DOORS.get(library, ONLY_HERE.get(library))
        assert doors is not None, f"{path} line {line}: {library} has no door in tests/test_architecture.py"
        assert mine in doors, f"{path} line {line}: {library} belongs in {', '.join(doors)}"


@pytest.mark.parametrize("path", MODULES, ids=ids)
def test_module_is_short_and_says_its_idea(path: Path) -> None:
    """No module is over 400 lines, and its first line is a docstring."""
    text = path.read_text(encoding="utf-8")
    assert len(text.splitlines()) <= 400
    assert ast.get_docstring(ast.parse(text)), f"{path} has no docstring"


def test_public_names_are_few_and_all_there() -> None:
    """The package exports thirty names at most, and each can be had."""
    assert len(spadework.__all__) <= 30
    for name in spadework.__all__:
        assert getattr(spadework, name) is not None


def test_design_page_names_only_modules_that_exist() -> None:
    """Every module that docs/design.md names in code type is in the package."""
    text = (ROOT / "docs" / "design.md").read_text(encoding="utf-8")
    named = re.findall(r"`((?:\w+/)*\w+(?:\.py|/))`", text)
    assert len(named) > 10
    missing = [name for name in named if not (PACKAGE / name).exists()]
    assert not missing


def test_top_level_holds_only_what_the_project_is_made_of() -> None:
    """Beside the named files and folders only LICENSE and dot files stand at the top."""
    allowed = {"README.md", "DEVELOPERS.md", "pyproject.toml", "src", "tests", "sample_surveys", "docs", "LICENSE"}
    # A folder of results made by the README's command is ignored by git and does not count.
    ignored = {"plan"}
    found = {path.name for path in ROOT.iterdir() if not path.name.startswith(".")}
    assert found - ignored <= allowed
