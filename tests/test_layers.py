"""The arrows of ARCHITECTURE.md point one way. A calculation package that reaches for the store or a page is a defect."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent / "src" / "borewright"
CALCULATIONS = ("siting", "pricing", "construction", "rig", "hydraulics", "pumping", "water")
FOUNDATION = {"errors", "faces", "ground", "quantities", "threads", "workbooks"}
# package -> what of borewright it may import, itself apart
MAY = {
    **dict.fromkeys(CALCULATIONS, FOUNDATION),
    "record": {"errors", "ground", "quantities"},
    "storage": {"errors", "faces", "quantities", "record", "pricing"},
    "drawing": {"errors", "ground", "quantities", "record"},
    "exchange": {"errors", "faces", "ground", "quantities", "record", "siting"},
    "papers": {"errors", "ground", "quantities", "record", "drawing", "pricing", "storage"},
    "bench": FOUNDATION | set(CALCULATIONS),
    "work": FOUNDATION | set(CALCULATIONS) | {"record", "storage"},
}
# What calculation packages may take from one another: only these public modules.
SHARED = {"pricing": {"borewright.siting.prospect"}, "construction": {"borewright.siting.prospect"}}


def imports_of(path: Path) -> list[str]:
    """Return every borewright module that a file imports, at the head or inside a function."""
    found = []
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
            found += [f"{node.module}.{alias.name}" for alias in node.names]
    return [name for name in found if name.startswith("borewright.")]


@pytest.mark.parametrize("package", sorted(MAY))
def test_a_package_imports_only_what_lies_below_it(package):
    files = sorted((ROOT / package).rglob("*.py"))
    assert files, f"{package} has no files"
    wrong = []
    for path in files:
        for name in imports_of(path):
            room = name.split(".")[1]
            if room == package or room in MAY[package]:
                continue
            if any(name == shared or name.startswith(shared + ".") for shared in SHARED.get(package, ())):
                continue
            wrong.append(f"{path.relative_to(ROOT)} imports {name}")
    assert not wrong, "\n".join(wrong)


def test_the_rule_would_notice(tmp_path):
    bad = tmp_path / "bad.py"
    bad.write_text("def f():\n    from borewright.storage import open_job_book\n")
    assert imports_of(bad) == ["borewright.storage.open_job_book"]


def test_every_package_is_ruled():
    rooms = {p.name for p in ROOT.iterdir() if p.is_dir() and (p / "__init__.py").exists()}
    assert rooms - set(MAY) == {"web", "cli", "demo"}  # the interfaces, which may use everything
