"""A module imports from lower ranks or its own folder only (the table of DEVELOPERS.md)."""

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parent.parent / "fieldkit"
RANKS = {
    "errors": 0, "garbage": 0, "plan_options": 0, "quantities": 0.5, "tables": 0.5, "beside": 0.5, "hushed": 0.5,
    "specs": 1,
    "route": 2, "loads": 2,
    "exposure": 3,
    "likelihood": 4, "recovery": 4,
    "inspection": 5, "logbook": 5,
    "kit": 6,
    "trials": 7,
    "plan": 8,
    "export": 9, "compare": 9, "batch": 9, "handbook": 9,
    "report": 10,
    "cli": 11,
}  # fmt: skip


def home(module: str) -> str:
    """The folder or module right under the package: fieldkit.kit.value -> kit."""
    return module.split(".")[1] if "." in module else ""


def imports(path: Path) -> list[tuple[str, int]]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    found = []
    for node in ast.walk(tree):
        names = []
        if isinstance(node, ast.ImportFrom) and node.module and not node.level:
            names = [node.module] if node.module != "fieldkit" else [f"fieldkit.{a.name}" for a in node.names]
        elif isinstance(node, ast.Import):
            names = [a.name for a in node.names]
        found += [(n, node.lineno) for n in names if n == "fieldkit" or n.startswith("fieldkit.")]
    return found


MODULES = [p for p in sorted(PACKAGE.rglob("*.py")) if p != PACKAGE / "__init__.py"]


@pytest.mark.parametrize("path", MODULES, ids=lambda p: p.relative_to(PACKAGE).as_posix())
def test_imports_point_down(path: Path) -> None:
    """Every import of the package's own modules goes to a lower rank or stays in its folder."""
    mine = path.relative_to(PACKAGE).parts[0].removesuffix(".py")
    assert mine in RANKS, f"{mine} has no rank: add it to the table of DEVELOPERS.md and here"
    for name, line in imports(path):
        other = home(name)
        same = other == mine
        assert same or RANKS.get(other, 99) < RANKS[mine], (
            f"{path.name}:{line} imports {name} (rank {RANKS.get(other)})"
        )


def test_every_rank_is_in_use() -> None:
    """The table names no module that is gone, logbook and batch apart: they are rooms kept for later."""
    there = {p.name.removesuffix(".py") for p in PACKAGE.iterdir() if not p.name.startswith("_")}
    assert set(RANKS) - {"batch", "logbook"} <= there
