"""Every code of a finding with what is said of it and where: `python -m tests.house.codes`.

With `--write` the page tests/messages/codes.md is made again. Read from the calls that make a `Problem`;
what is filled in stands as `…`.
"""

import ast
import re
import sys
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

from .conftest import Module, _modules

PAGE = "tests/messages/codes.md"
CODE = re.compile(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")
FIELDS = ("code", "file", "place", "found", "expected", "hint")
NO_NAMES: Mapping[str, ast.expr] = MappingProxyType({})
HEAD = """# Codes of findings

For programs that read `--json`: each finding has a `code` and a `place`, which stay, and words (`found`,
`expected`, `hint`), which may be reworded. `…` stands for what is filled in: a quoted cell, a name, a
quantity. `Refused` carries the same findings in the library.

Made by `python -m tests.house.codes --write`.

| code | found | expected, and hint | raised in |
|---|---|---|---|
"""


def _text(node: ast.expr | None, local: Mapping[str, ast.expr] = NO_NAMES) -> str:
    """What an argument says, with a mark for what is filled in; local: what names stand for there."""
    if node is None:
        return ""
    if isinstance(node, ast.Name) and node.id in local:
        return _text(local[node.id])
    if isinstance(node, ast.Constant):
        return str(node.value)
    if isinstance(node, ast.JoinedStr):
        return "".join(_text(part) if isinstance(part, ast.Constant) else "…" for part in node.values)
    if isinstance(node, ast.IfExp):
        either = [_text(node.body), _text(node.orelse)]
        return " / ".join(dict.fromkeys(filter(None, either)))
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        return _text(node.left) + _text(node.right)
    if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "Said":
        return "".join(map(_text, node.args))
    return "…"


def _codes(node: ast.expr | None, constants: Mapping[str, str], local: Mapping[str, ast.expr]) -> list[str]:
    """The codes that an argument can be."""
    if isinstance(node, ast.Name) and node.id in local:
        return _codes(local[node.id], constants, NO_NAMES)
    if isinstance(node, ast.Constant) and isinstance(node.value, str) and CODE.fullmatch(node.value):
        return [node.value]
    if isinstance(node, ast.Name) and node.id in constants:
        return [constants[node.id]]
    if isinstance(node, ast.IfExp):
        return [*_codes(node.body, constants, local), *_codes(node.orelse, constants, local)]
    return []


def _makers(trees: Iterable[ast.Module]) -> dict[str, tuple[str, ...]]:
    """Functions that take a code first, and their parameters; forms of one name have them in one order."""
    forms: dict[str, tuple[str, ...]] = {}
    for tree in trees:
        for node in ast.walk(tree):
            if isinstance(node, ast.FunctionDef):
                names = tuple(a.arg for a in node.args.args if a.arg != "self")
                if "code" in names[:2]:
                    forms[node.name] = max(forms.get(node.name, ()), names, key=len)
    return forms | dict.fromkeys(("Problem", "Answered", "UnknownKey"), FIELDS)


def _said(call: ast.Call, names: tuple[str, ...]) -> dict[str, ast.expr]:
    given = dict(zip(names, call.args, strict=False))
    return given | {word.arg: word.value for word in call.keywords if word.arg}


def _words(given: dict[str, ast.expr], local: Mapping[str, ast.expr]) -> tuple[str, str]:
    """What is found, and what is expected with its hint; a quoted cell and its text are one thing."""
    found, expected, hint = (_text(given.get(name), local) for name in ("found", "expected", "hint"))
    return re.sub(r"'…'|\[…\]", "…", found) or "…", "; ".join(filter(None, [expected, hint]))


def _calls(tree: ast.Module) -> Iterator[tuple[ast.Call, Mapping[str, ast.expr]]]:
    """Every call, with what the names of its function stand for before it."""
    seen: set[int] = set()
    functions = [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]
    for scope in [*reversed(functions), tree]:
        local: dict[str, ast.expr] = {}
        for node in sorted(ast.walk(scope), key=lambda node: getattr(node, "lineno", 0)):
            if isinstance(node, ast.Assign) and scope is not tree:
                (target, *_), value = node.targets, node.value
                pairs = (
                    zip(target.elts, value.elts, strict=False)
                    if isinstance(target, ast.Tuple) and isinstance(value, ast.Tuple)
                    else [(target, value)]
                )
                local |= {name.id: what for name, what in pairs if isinstance(name, ast.Name)}
            if isinstance(node, ast.Call) and id(node) not in seen:
                seen.add(id(node))
                yield node, dict(local)


def _constants(tree: ast.Module) -> dict[str, str]:
    """The texts that a module names."""
    return {
        target.id: node.value.value
        for node in tree.body
        if isinstance(node, ast.Assign) and isinstance(node.value, ast.Constant)
        for target in node.targets
        if isinstance(target, ast.Name) and isinstance(node.value.value, str)
    }


def raised(modules: Iterable[Module]) -> Iterator[tuple[str, str, str, str]]:
    """Code, words and module of each place that makes a finding: what is found, what is expected."""
    every = list(modules)
    anywhere = _makers(module.tree for module in every)
    named = {module.name: _constants(module.tree) for module in every}
    for module in every:
        makers = anywhere | _makers([module.tree])
        taken = (node for node in ast.walk(module.tree) if isinstance(node, ast.ImportFrom))
        constants = _constants(module.tree) | {
            name.asname or name.name: named[node.module][name.name]
            for node in taken
            for name in node.names
            if name.name in named.get(node.module or "", {})
        }
        for node, local in _calls(module.tree):
            name = node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
            given = _said(node, makers.get(name, ()))
            for code in _codes(given.get("code"), constants, local):
                yield code, *_words(given, local), module.name.removeprefix("laminate.")


def page(modules: Iterable[Module]) -> str:
    """The page: a row a code, with its templates one below the other."""
    rows: dict[str, tuple[set[str], ...]] = defaultdict(lambda: (set(), set(), set()))
    for code, *words in raised(modules):
        for cell, text in zip(rows[code], words, strict=True):
            cell.update(filter(None, [text.replace("|", "\\|")]))
    cells = {code: ["<br>".join(sorted(cell)) for cell in row] for code, row in sorted(rows.items())}
    lines = [f"| `{code}` | {' | '.join(row)} |" for code, row in cells.items()]
    return HEAD + "\n".join(lines) + "\n"


def main() -> None:
    """Print the page, or write it."""
    checkout = Path(__file__).parents[2]
    text = page(_modules(checkout))
    if "--write" in sys.argv:
        (checkout / PAGE).write_text(text, "utf-8")
    else:
        sys.stdout.buffer.write(text.encode())


if __name__ == "__main__":
    main()
