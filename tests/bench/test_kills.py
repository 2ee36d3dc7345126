"""Killed at any moment, nothing that was accepted is lost, and the next session finds a whole table."""

import json
import os
import random
import select
import signal
import subprocess
import sys
from pathlib import Path

from laminate.bench.lock import held
from laminate.bench.table import BenchTable
from tests.messages.wording import begins, says

KILLS = 200

# One process that has everything loaded forks the writers, so that two hundred deaths take seconds.
WRITERS = """
import os, sys, time
from pathlib import Path
from laminate.bench.lock import held
from laminate.bench.table import BenchTable

path = Path(sys.argv[1])

def write(round, say):
    with held(path, "t.csv"):
        table = BenchTable(path, "t.csv")
        rows = [row.number for row in table.view.rows]
        for n in range(100000):
            row, label = rows[n % len(rows)], ("mass in air", "mass in liquid", "thickness 1")[n % 3]
            table.keep({(row, label): f"{1 + round}.{n:05d}", (row, "time"): str(n)})
            os.write(say, f"{row};{label};{1 + round}.{n:05d}\\n".encode())

for line in sys.stdin:
    round = int(line)
    child = os.fork()
    if not child:
        write(round, sys.stdout.fileno())
    os.write(sys.stdout.fileno(), f"child {child}\\n".encode())
    _, status = os.waitpid(child, 0)
    os.write(sys.stdout.fileno(), f"dead {status}\\n".encode())
"""


class Said:
    """What the writers say, line by line."""

    def __init__(self, stream):
        self.stream, self.rest = stream, b""

    def line(self):
        while b"\n" not in self.rest:
            ready, _, _ = select.select([self.stream], [], [], 30)
            assert ready, "the writers are silent"
            self.rest += os.read(self.stream, 65536)
        line, self.rest = self.rest.split(b"\n", 1)
        return line.decode()

    def until(self, start):
        """The lines before the one that begins with `start`, and that one."""
        lines = []
        while not (line := self.line()).startswith(start):
            lines.append(line)
        return lines, line


def test_two_hundred_kills_lose_nothing(tmp_path):
    path = tmp_path / "t.csv"
    header = "specimen,colour,mass in air [g],mass in liquid [g],thickness 1 [mm],remark\n"
    rows = "".join(f'00{n:02d},"red; dark",,,,"remark {n}"\n' for n in range(1, 13))
    path.write_text("Coupons of Friday\n\n" + header + rows)
    chance = random.Random(20261120)
    accepted: dict[tuple[int, str], str] = {}
    taken = 0
    with subprocess.Popen(
        [sys.executable, "-c", WRITERS, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as writers:
        assert writers.stdin is not None
        assert writers.stdout is not None
        said = Said(writers.stdout.fileno())
        for round in range(KILLS):
            writers.stdin.write(f"{round}\n".encode())
            writers.stdin.flush()
            lines, child = said.until("child ")
            lines += [said.line() for _ in range(chance.randrange(4))]
            signal.sigtimedwait([], chance.uniform(0.0, 0.008))
            os.kill(int(child.partition(" ")[2]), signal.SIGKILL)
            more, dead = said.until("dead ")
            assert dead == "dead 9"
            last = None
            for line in lines + more:
                row, label, text = line.split(";")
                accepted[int(row), label] = text
                last = int(text.partition(".")[2])
                taken += 1
            table = BenchTable(path, "t.csv")
            for (row, label), text in accepted.items():
                found = table.text(row, label)
                # the one after the last accepted may have arrived just before the death
                assert found in (text, f"{1 + round}.{0 if last is None else last + 1:05d}"), (row, label)
                accepted[row, label] = found
            assert [row.cells[0] for row in table.view.rows] == [f"00{n:02d}" for n in range(1, 13)]
            assert begins("bench: two hundred kills lose nothing", path.read_text())
            assert path.read_text().count("red; dark") == 12
        writers.stdin.close()
    assert taken > KILLS
    for draft in tmp_path.glob(
        ".laminate-*.draft"
    ):  # what a killed call left goes once it is older than any call
        os.utime(draft, (0, 0))
    with held(path, "t.csv") as ended:
        assert says("bench: a disk without locks believes", ended)
        BenchTable(path, "t.csv").keep({(4, "mass in air"): "1.5"})
    assert [p.name for p in tmp_path.iterdir()] == ["t.csv"]


LIMITED = """
import json, resource, sys
from pathlib import Path
from laminate.bench.table import BenchTable
from laminate.values.problems import Refused
table = BenchTable(Path(sys.argv[1]), "t.csv")
resource.setrlimit(resource.RLIMIT_FSIZE, (len(table.data) + 4, len(table.data) + 4))
kept = []
for n in range(12):
    try:
        table.keep({(2, "remark"): "x" * n})
        kept.append(n)
    except Refused as refused:
        print(json.dumps([kept, refused.problems[0].code, table.text(2, "remark")]))
        break
"""


def test_a_file_that_may_not_grow_keeps_its_last_whole_content(tmp_path):
    path = tmp_path / "t.csv"
    path.write_text("specimen,thickness [mm],remark\n0012,2.5,\n")
    done = subprocess.run(
        [sys.executable, "-c", LIMITED, str(path)], capture_output=True, text=True, check=True
    )
    assert json.loads(done.stdout) == [[0, 1, 2, 3, 4], "disk-full", "xxxx"]
    assert path.read_text() == "specimen,thickness [mm],remark\n0012,2.5,xxxx\n"
    assert [Path(p).name for p in os.listdir(tmp_path)] == ["t.csv"]
