"""What a call costs, as ratios within one run on one machine: never an absolute time.

Print them: `python tests/benchmarks/ratios.py`, with `--large` for the tables that take minutes, with
`--million` for those of 1 000 to 1 000 000 coupons alone.
"""

import contextlib
import csv
import io
import os
import subprocess
import sys
import time
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

CELLS = 55
"""Cells of the answer for one coupon that a table would hold."""
OPTIONS = {
    "--fiber-density": "1.79 g/cm^3 ± 0.01 (k=2)",
    "--resin-density": "1.28 g/cm^3 ± 0.012 (k=2)",
    "--fiber-areal-weight": "150 g/m^2 ± 2 (k=2)",
    "--balance": "0.1 mg (standard)",
    "--thermometer": "0.1 K (standard)",
    "--micrometer": "0.002 mm (standard)",
    "--residue-share": "0.2 % ± 0.1 (standard)",
}
PREDICT = [
    "--fiber-areal-weight=134 g/m^2", "--resin-content=35 %", "--fiber-density=1.79 g/cm^3",
    "--resin-density=1.30 g/cm^3", "--plies=12",
]  # fmt: skip
LIBRARIES = "import typer, numpy, pint, uncertainties, pydantic"


def coupon_table(folder: Path, count: int, slips: float = 0.0) -> Path:
    """Coupons of one laminate, weighed in air and water, digested, measured across; invented.

    slips: share of the rows with one digit of one cell wrong.
    """
    generator = np.random.default_rng(count)
    mass, density, content, thickness = (
        middle * (1 + share * generator.standard_normal(count))
        for middle, share in ((1.44, 0.02), (1.549, 0.0015), (0.677, 0.002), (2.87, 0.002))
    )
    temperature = 22.8 + 0.1 * generator.standard_normal(count)
    repeats = [thickness + 0.002 * generator.standard_normal(count) for _ in range(3)]
    masses = {
        "mass in air [g]": mass,
        "mass in liquid [g]": mass * (1 - 0.9975 / density),
        "specimen mass [g]": 0.9999 * mass,
        "residue mass [g]": 0.9999 * mass * content,
    }
    columns = {
        "specimen": [f"{i:07d}" for i in range(1, count + 1)],
        "plies": ["20"] * count,
        "method": ["digestion"] * count,
        **{name: [f"{value:.4f}" for value in column] for name, column in masses.items()},
        "liquid temperature [degC]": [f"{value:.1f}" for value in temperature],
        **{f"thickness {i + 1} [mm]": [f"{v:.3f}" for v in column] for i, column in enumerate(repeats)},
    }
    for i in generator.choice(count, int(count * slips), replace=False):
        cells = columns[generator.choice([*masses])]
        at = cells[i].index(".") + 2
        cells[i] = f"{cells[i][:at]}{(int(cells[i][at]) + 3) % 10}{cells[i][at + 1 :]}"
    path = folder / f"coupons-{count}-{slips:g}.csv"
    pd.DataFrame(columns).to_csv(path, index=False)
    return path


def call(*arguments: str) -> int:
    """Run one call of the program in this process; its answer goes nowhere."""
    from laminate.cli.app import status

    with open(os.devnull, "w", encoding="utf-8") as nowhere, contextlib.redirect_stdout(nowhere):
        return status(arguments)


def measuring(table: Path) -> list[str]:
    return ["measure", str(table), *(part for option in OPTIONS.items() for part in option), "--json"]


def read_and_written(table: Path) -> None:
    """What the table library takes to read the table and to write as many cells as the answer has."""
    read = pd.read_csv(table, dtype=str, keep_default_na=False)
    number = pd.to_numeric(read["mass in air [g]"])
    pd.DataFrame({f"c{i}": number * (1.0 + 0.001 * i) for i in range(CELLS)}).to_json(
        io.StringIO(), orient="records"
    )


def seconds(work, *arguments) -> float:
    """Of the processor, which other work on the machine moves little."""
    start = time.process_time()
    work(*arguments)
    return time.process_time() - start


def least(times: int, *works) -> list[float]:
    """The least seconds of each, taken in turns, so that whatever else the machine does strikes all."""
    return [min(row) for row in zip(*([seconds(work) for work in works] for _ in range(times)), strict=True)]


def apart(*arguments: str) -> None:
    """Run a Python of its own."""
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True)


def peak_memory(*arguments: str) -> float:
    """Peak memory [kB] of one call in a Python of its own; Linux says it of the program alone."""
    code = (
        "import sys\nfrom laminate.cli.app import status\nstatus(sys.argv[1:])\n"
        "print(next(l for l in open('/proc/self/status') if l.startswith('VmHWM')), file=sys.stderr)"
    )
    call = [sys.executable, "-c", code, *arguments]
    done = subprocess.run(call, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, check=True)
    return float(done.stderr.rpartition("VmHWM:")[2].split()[0])


def starts(times: int = 7) -> dict[str, float]:
    """The help over the import of the library of its options; a prediction over the import of its own.

    Processor seconds, which other work on the machine moves little, of programs that find their modules
    compiled, as installed ones are.
    """
    calls = (
        ("-m", "laminate", "--help"),
        ("-c", "import typer"),
        ("-m", "laminate", "predict", *PREDICT),
        ("-c", LIBRARIES),
    )
    with TemporaryDirectory() as compiled:
        environment = {k: v for k, v in os.environ.items() if k != "PYTHONDONTWRITEBYTECODE"}
        environment["PYTHONPYCACHEPREFIX"] = compiled
        rounds = [[processor_seconds(environment, *call) for call in calls] for _ in range(times + 1)]
    ours, typer, predict, libraries = map(min, zip(*rounds[1:], strict=True))
    return {"--help / import typer": ours / typer, "predict / its imports": predict / libraries}


def processor_seconds(environment: dict[str, str], *arguments: str) -> float:
    """Seconds of the processor that a Python of its own takes [s], user and system."""
    import resource  # not on every system

    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, env=environment)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    done.check_returncode()
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def filled(folder: Path, times: int = 12) -> dict[str, float]:
    """`fill` of the worked example over the import of every module that it loads, and of its libraries alone.

    With modules compiled before, as they are once the program has run.
    """
    part = str(files("laminate.examples") / "mast" / "part.toml")
    environment = {**os.environ, "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    end = f"import sys\nfrom laminate.cli.app import status\nstatus(['fill', {part!r}])\n"
    code = end + "print(*sorted(sys.modules), file=sys.stderr)"
    run = subprocess.run([sys.executable, "-c", code], env=environment, capture_output=True, check=True)
    loaded = run.stderr.decode().split()
    assert "laminate.press.filling" in loaded
    whole = "import contextlib, importlib\n" + "".join(
        f"with contextlib.suppress(ImportError): importlib.import_module({name!r})\n"
        for name in loaded
        if name != "__main__"
    )
    calls = {"fill": ("-m", "laminate", "fill", part), "all": ("-c", whole), "libraries": ("-c", LIBRARIES)}
    least = dict.fromkeys(calls, float("inf"))
    for _ in range(times):  # in turns, so that whatever else the machine does strikes all
        least |= {name: min(least[name], processor_seconds(environment, *calls[name])) for name in calls}
    return {
        "fill of the example / its imports": least["fill"] / least["all"],
        "fill of the example / imports of its libraries": least["fill"] / least["libraries"],
    }


def of_tables(folder: Path, counts: list[int], times: int = 3) -> dict[str, float]:
    """Measured tables over read and written ones; growth; memory a coupon [kB]."""
    found: dict[str, float] = {}
    call(*measuring(coupon_table(folder, 50)))
    a_coupon = {}
    for count in counts:
        for slips in (0.0, 0.02):
            table = coupon_table(folder, count, slips)
            ours, plain = least(
                times,
                lambda table=table: call(*measuring(table)),
                lambda table=table: read_and_written(table),
            )
            words = "clean" if not slips else "2 % slips"
            found[f"measure {count}, {words} / pandas reads and writes"] = ours / plain
            a_coupon[count, slips] = ours / count
            found[f"{count}, {words}: microseconds a coupon"] = 1e6 * a_coupon[count, slips]
    first, last = counts[0], counts[-1]
    found[f"a coupon of {last} / of {first}"] = a_coupon[last, 0.0] / a_coupon[first, 0.0]
    few, many = (peak_memory(*measuring(coupon_table(folder, n))) for n in (50, counts[-1]))
    found["memory a coupon [kB]"] = (many - few) / (counts[-1] - 50)
    return found


def report_case(folder: Path, count: int) -> Path:
    """The worked example with so many coupons in each row's place."""
    case = folder / f"case-{count}"
    case.mkdir()
    for file in (files("laminate.examples") / "mast").iterdir():
        (case / file.name).write_bytes(file.read_bytes())
    with (case / "coupons.csv").open(newline="", encoding="utf-8") as read:
        head, *rows = list(csv.reader(read))
    generator, at = np.random.default_rng(count), head.index("mass in air [g]")
    made = []
    for i in range(count):
        row = list(rows[i % len(rows)])
        size = 1.0 + 0.01 * generator.standard_normal()
        row[0] = f"{i:05d}"
        row[at:] = [
            f"{float(cell) * size:.4f}" if "mass" in name and cell else cell
            for name, cell in zip(head[at:], row[at:], strict=True)
        ]
        made.append(row)
    with (case / "coupons.csv").open("w", newline="", encoding="utf-8") as written:
        csv.writer(written).writerows([head, *made])
    return case / "batch.toml"


def reports(folder: Path, counts: list[int]) -> dict[str, float]:
    """Reports over the measuring of the same coupons."""
    found = {}
    for count in counts:
        batch = str(report_case(folder, count))
        ours, measured = least(
            2,
            lambda batch=batch: call("report", batch, "--json"),
            lambda batch=batch: call("measure", batch, "--json"),
        )
        found[f"report of {count} / measure of the same"] = ours / measured
    return found


def main() -> None:
    """Print every ratio."""
    large, million = "--large" in sys.argv, "--million" in sys.argv
    with TemporaryDirectory() as folder:
        if million:
            told(of_tables(Path(folder), [10**power for power in (3, 4, 5, 6)], 1))
            return
        found = starts() | filled(Path(folder))
        found |= of_tables(Path(folder), [1_000, 10_000, *([100_000] if large else [])], 1 if large else 3)
        found |= reports(Path(folder), [10, 100, *([1_000] if large else [])])
    told(found)


def told(found: dict[str, float]) -> None:
    """Print them, one a line."""
    for words, ratio in found.items():
        print(f"{words:<55} {ratio:8.2f}")


if __name__ == "__main__":
    main()
