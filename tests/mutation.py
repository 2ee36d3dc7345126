"""Change one thing at a time in a room, and see whether its fast tests notice.

    python -m tests.mutation --room formulas --sample 60 --seed 1

Works in a temporary copy of the checkout. Each mutant runs the tests that call the function it stands in,
the quickest first, in a process of its own with a time limit. Prints each survivor with its file and line,
and the score: of the mutants in functions that a test calls, the share that was noticed.
"""

import argparse
import ast
import contextlib
import io
import os
import random
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter, defaultdict
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from copy import deepcopy
from dataclasses import dataclass
from pathlib import Path

CHECKOUT = Path(__file__).parents[1]
ROOMS = {
    "formulas": (
        ["laminate/formulas"],
        [
            "laminate/formulas",
            "tests/published",
            "tests/properties/test_formulas.py",
            "tests/properties/test_conformity.py",
            "tests/properties/test_expanding_core.py",
            "tests/press/test_check_values.py",
            "tests/press/test_more_check_values.py",
            "tests/trend/test_lots.py",
            "tests/core",
            "tests/cycle",
        ],
    ),
    "uncertainty": (
        ["laminate/values/uncertainty.py", "laminate/values/averages.py"],
        ["laminate/values", "tests/uncertainty", "tests/measure/test_averages.py"],
    ),
    "judging": (
        ["laminate/judging"],
        [
            "laminate/judging",
            "tests/judge",
            "tests/properties/test_conformity.py",
            "tests/cycle/test_report.py",
            "tests/cycle/test_unread.py",
        ],
    ),
    "coupons": (["laminate/coupons"], ["laminate/coupons", "tests/measure", "tests/mistakes"]),
    "press": (["laminate/press"], ["laminate/press", "tests/press", "tests/fill", "tests/core"]),
    "curing": (["laminate/curing"], ["laminate/curing", "tests/cycle"]),
    "history": (["laminate/history"], ["laminate/history", "tests/trend", "tests/correct"]),
    "records": (["laminate/records"], ["laminate/records", "tests/record", "tests/signature"]),
}
"""Room -> what is changed, and the tests that must notice."""
SWAPS = {
    ast.Add: (ast.Sub,),
    ast.Sub: (ast.Add,),
    ast.Mult: (ast.Div,),
    ast.Div: (ast.Mult,),
    ast.Pow: (ast.Mult,),
    ast.FloorDiv: (ast.Div,),
    ast.Mod: (ast.Mult,),
    ast.Lt: (ast.LtE, ast.GtE),
    ast.LtE: (ast.Lt, ast.Gt),
    ast.Gt: (ast.GtE, ast.LtE),
    ast.GtE: (ast.Gt, ast.Lt),
    ast.Eq: (ast.NotEq,),
    ast.NotEq: (ast.Eq,),
    ast.Is: (ast.IsNot,),
    ast.IsNot: (ast.Is,),
    ast.In: (ast.NotIn,),
    ast.NotIn: (ast.In,),
    ast.And: (ast.Or,),
    ast.Or: (ast.And,),
}
CALLS = {"min": "max", "max": "min", "any": "all", "all": "any"}


@dataclass(frozen=True)
class Mutant:
    """One change: file, line, first line of the function it stands in (0 outside), source after it, words."""

    file: str
    line: int
    inside: int
    source: str
    words: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}: {self.words}"


def _changed(node: ast.AST) -> Iterator[ast.AST]:
    """The node with one thing changed, each way that there is."""
    copy = deepcopy(node)
    if isinstance(copy, ast.BinOp | ast.BoolOp):
        for other in SWAPS.get(type(copy.op), ()):
            copy.op = other()
            yield copy
    elif isinstance(copy, ast.Compare):
        for at, old in enumerate(copy.ops):
            for other in SWAPS[type(old)]:
                copy.ops[at] = other()
                yield copy
            copy.ops[at] = old
    elif isinstance(copy, ast.UnaryOp) and isinstance(copy.op, ast.Not | ast.USub):
        yield copy.operand
    elif isinstance(copy, ast.Constant) and isinstance(copy.value, bool):
        yield ast.Constant(not copy.value)
    elif isinstance(copy, ast.Constant) and isinstance(copy.value, int):
        yield ast.Constant(copy.value + 1)
    elif isinstance(copy, ast.Constant) and isinstance(copy.value, float):
        yield ast.Constant(1.1 * copy.value if copy.value else 1.0)
    elif isinstance(copy, ast.Call) and isinstance(copy.func, ast.Name) and copy.func.id in CALLS:
        copy.func.id = CALLS[copy.func.id]
        yield copy
    elif isinstance(copy, ast.Return) and isinstance(copy.value, ast.Name | ast.Attribute):
        yield ast.Return(ast.Constant(None))


def _visited(node: ast.AST, inside: int = 0) -> Iterator[tuple[ast.AST, int]]:
    """Each node that computes, with the line of its function: without types, messages, texts, decorators."""
    if isinstance(node, ast.JoinedStr | ast.Raise | ast.Assert) or (
        isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test)
    ):
        return
    if isinstance(node, ast.FunctionDef):
        inside = inside or min([node.lineno, *(one.lineno for one in node.decorator_list)])
    yield node, inside
    for name, value in ast.iter_fields(node):
        if name in {"annotation", "returns", "decorator_list", "type_params"}:
            continue
        for child in value if isinstance(value, list) else [value]:
            if isinstance(child, ast.AST):
                yield from _visited(child, inside)


def mutants_of(path: Path, name: str) -> Iterator[Mutant]:
    """Every mutant of a file."""
    source = path.read_bytes()
    starts = [0]
    for line in source.splitlines(keepends=True):
        starts.append(starts[-1] + len(line))
    for node, inside in _visited(ast.parse(source)):
        if not isinstance(node, ast.expr | ast.Return):
            continue
        start = starts[node.lineno - 1] + node.col_offset
        end = starts[(node.end_lineno or node.lineno) - 1] + (node.end_col_offset or 0)
        for other in _changed(node):
            text = ast.unparse(ast.fix_missing_locations(other))
            put = text if isinstance(node, ast.Return) else f"({text})"
            whole = (source[:start] + put.encode() + source[end:]).decode()
            old = " ".join(source[start:end].decode().split())
            yield Mutant(name, node.lineno, inside, whole, f"{old} -> {text}")


class Callers:
    """A plugin that notes which tests call which function of the room, and how long each test takes."""

    def __init__(self, folder: Path, changed: list[str]) -> None:
        self.folder, self.changed = f"{folder}/", tuple(f"{folder}/{one}" for one in changed)
        self.tests: dict[tuple[str, int], set[str]] = defaultdict(set)
        self.seconds: Counter[str] = Counter()

    def pytest_runtest_logreport(self, report):
        self.seconds[report.nodeid] += report.duration

    def pytest_runtest_protocol(self, item, nextitem):
        seen: set[tuple[str, int]] = set()

        def called(frame, event, _):
            seen.add((frame.f_code.co_filename, frame.f_code.co_firstlineno))

        from _pytest.runner import runtestprotocol

        sys.settrace(called)
        try:
            runtestprotocol(item, nextitem=nextitem)
        finally:
            sys.settrace(None)
        for file, line in seen:
            if file.startswith(self.changed):
                self.tests[file.removeprefix(self.folder), line].add(item.nodeid)
        return True

    def of(self, mutant: Mutant) -> list[str]:
        """The tests that call the function of a mutant; outside of one, those that call any of its file."""
        here = [
            tests
            for (file, line), tests in self.tests.items()
            if file == mutant.file and mutant.inside in (0, line)
        ]
        return sorted(set().union(*here), key=lambda test: self.seconds[test])


def copied(into: Path) -> Path:
    """A copy of the checkout in which its own modules are found."""
    for name in ("laminate", "cli", "reference", "examples", "tests"):
        shutil.copytree(CHECKOUT / name, into / name, ignore=shutil.ignore_patterns("__pycache__"))
    for name in ("pyproject.toml", "README.md", "DEVELOPERS.md"):
        shutil.copy(CHECKOUT / name, into)
    for name in ("cli", "reference", "examples"):
        (into / "laminate" / name).symlink_to(into / name)
    return into


def run(folder: Path, tests: list[str], seconds: float, plugin: object = None) -> int:
    """The status of pytest over some tests in a copy, in a process of its own; 124 where time was up."""
    child = os.fork()
    if child == 0:
        os.setsid()
        os.chdir(folder)
        sys.path.insert(0, str(folder))
        sys.dont_write_bytecode = True
        import pytest

        with open(os.devnull, "w") as nothing:
            os.dup2(nothing.fileno(), 1)
            os.dup2(nothing.fileno(), 2)
        with contextlib.redirect_stdout(io.StringIO()), contextlib.redirect_stderr(io.StringIO()):
            status = pytest.main(["-q", "-x", "-p", "no:cacheprovider", *tests])
        os._exit(int(status))
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            return os.waitstatus_to_exitcode(status)
        time.sleep(0.05)
    os.killpg(child, signal.SIGKILL)
    os.waitpid(child, 0)
    return 124


def callers(folder: Path, changed: list[str], tests: list[str]) -> Callers:
    """Run the tests of a room once, unchanged, in this process's copy; they must pass."""
    found = Callers(folder, changed)
    reading, writing = os.pipe()
    child = os.fork()
    if child == 0:
        os.chdir(folder)
        sys.path.insert(0, str(folder))
        sys.dont_write_bytecode = True
        import pickle

        import pytest

        quick = "not slow and not long and not benchmark and not browser and not terminal"
        status = pytest.main(["-q", "-p", "no:cacheprovider", "-m", quick, *tests], plugins=[found])
        with os.fdopen(writing, "wb") as out:
            pickle.dump((int(status), dict(found.tests), found.seconds), out)
        os._exit(0)
    os.close(writing)
    import pickle

    with os.fdopen(reading, "rb") as told:
        status, found.tests, found.seconds = pickle.load(told)
    os.waitpid(child, 0)
    if status:
        raise SystemExit(f"the tests of the room fail before anything is changed (status {status})")
    return found


def mutate(room: str, sample: int, seed: int, workers: int) -> int:
    """Try a sample of the mutants of a room; the number that survived."""
    import scipy.stats  # noqa: F401  (once, before the processes part)

    changed, tests = ROOMS[room]
    with tempfile.TemporaryDirectory(prefix="mutants-") as place:
        copies = [copied(Path(place, str(number))) for number in range(workers)]
        known = callers(copies[0], changed, tests)
        files = [
            path
            for one in changed
            for path in sorted((CHECKOUT / one).rglob("*.py") if one[-3:] != ".py" else [CHECKOUT / one])
        ]
        every = [m for path in files for m in mutants_of(path, str(path.relative_to(CHECKOUT)))]
        chosen = random.Random(seed).sample(every, min(sample or len(every), len(every)))
        print(f"{room}: {len(chosen)} of {len(every)} mutants of {len(files)} files", flush=True)
        ended: Counter[str] = Counter()

        def tried(mutant: Mutant, folder: Path) -> str:
            mine = known.of(mutant)
            if not mine:
                return "uncalled"
            target = folder / mutant.file
            before = target.read_text("utf-8")
            target.write_text(mutant.source, "utf-8")
            try:
                status = run(folder, mine, 20.0 + 5.0 * sum(known.seconds[test] for test in mine))
            finally:
                target.write_text(before, "utf-8")
            return {0: "survived", 124: "out of time"}.get(status, "noticed")

        free = list(copies)

        def one(mutant: Mutant) -> None:
            folder = free.pop()
            end = tried(mutant, folder)
            free.append(folder)
            ended[end] += 1
            if end in ("survived", "uncalled"):
                print(f"{end}: {mutant}", flush=True)

        with ThreadPoolExecutor(workers) as pool:
            list(pool.map(one, sorted(chosen, key=lambda m: (m.file, m.line))))
    noticed, called = ended["noticed"] + ended["out of time"], sum(ended.values()) - ended["uncalled"]
    print(f"{room}: noticed {noticed} of {called} ({noticed / max(called, 1):.0%}); {dict(ended)}")
    return ended["survived"]


def main() -> None:
    """Read the call and try the rooms."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--room", choices=ROOMS, action="append", help="each, where none is named")
    parser.add_argument("--sample", type=int, default=0, help="mutants a room, all without it")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--workers", type=int, default=2)
    call = parser.parse_args()
    os.environ |= {"OPENBLAS_NUM_THREADS": "1", "PYTHONDONTWRITEBYTECODE": "1"}
    for room in call.room or ROOMS:
        mutate(room, call.sample, call.seed, call.workers)


if __name__ == "__main__":
    main()
