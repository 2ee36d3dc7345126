"""The modules of the house and what each of them imports."""

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

ROOTS = {
    "laminate": "laminate",
    "cli": "laminate.cli",
    "reference": "laminate.reference",
    "examples": "laminate.examples",
}


@dataclass(frozen=True)
class Module:
    """One module: dotted name, file, syntax tree."""

    name: str
    package: str
    path: Path
    tree: ast.Module

    def imports(self, *, typing_only: bool = True) -> set[str]:
        """Dotted names it imports, whole; without those under `if TYPE_CHECKING` unless typing_only."""
        return set(self._imports(self.tree, typing_only))

    def _imports(self, node: ast.AST, typing_only: bool) -> Iterator[str]:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test) and not typing_only:
            for child in node.orelse:
                yield from self._imports(child, typing_only)
            return
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = node.module or ""
            if node.level:
                parents = self.package.split(".")[: len(self.package.split(".")) - node.level + 1]
                base = ".".join([*parents, base] if base else parents)
            yield from (f"{base}.{alias.name}" for alias in node.names)
        for child in ast.iter_child_nodes(node):
            yield from self._imports(child, typing_only)


def _modules(checkout: Path) -> Iterator[Module]:
    for folder, package in ROOTS.items():
        for path in sorted((checkout / folder).rglob("*.py")):
            parts = path.relative_to(checkout / folder).with_suffix("").parts
            inner = ".".join([package, *parts[:-1]])
            name = inner if parts[-1] == "__init__" else f"{inner}.{parts[-1]}"
            yield Module(name, inner, path, ast.parse(path.read_text("utf-8"), str(path)))


@pytest.fixture(scope="session")
def modules(checkout: Path) -> list[Module]:
    """Every module that is installed."""
    return list(_modules(checkout))
