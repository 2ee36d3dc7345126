"""An archive of signed records, alike but for batch and specimens, and what `trend` takes for it.

Print it: `python tests/benchmarks/archive.py 2000`. Records to be proven by signatures are written as sealed
without being judged one by one; the few that are computed again are judged and sealed.
"""

import datetime as dt
import json
import sys
import time
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory

import asyncssh
import orjson

from laminate.history.trending import trend
from laminate.judging.reported import report_of
from laminate.records.files import namespace, write_pair
from laminate.records.record import recompute, seal
from laminate.records.sshsig import make
from laminate.records.statement import Statement, statement_name
from laminate.values.canonical import canonical, sha256

NAME = "Ann Lee"


def case() -> dict[str, bytes]:
    """The files of the worked example."""
    names = ("part.toml", "batch.toml", "coupons.csv")
    return {name: (files("laminate.examples") / "mast" / name).read_bytes() for name in names}


def sign(record: Path, data: bytes, key: asyncssh.SSHKey) -> None:
    """Sign a record as its preparer."""
    said = Statement(sha256(data), "prepared", NAME, "2026-11-21T09:00:00Z").write()
    write_pair(
        record.with_name(statement_name(record, "prepared", NAME)),
        said,
        make(key, said, namespace("prepared")),
    )


def written(folder: Path, count: int, *, judged: bool = False) -> Path:
    """Write so many signed records below a folder; returns the file of who may sign them."""
    key = asyncssh.generate_private_key("ssh-ed25519")
    allowed = folder / "allowed_signers"
    public = key.export_public_key().decode().split()[:2]
    allowed.write_text(f'"{NAME}" namespaces="laminate-record-prepared" {" ".join(public)}\n', "utf-8")
    first = seal(report_of("batch.toml", case()))
    content = json.loads(first)
    day = dt.date(2026, 11, 18)
    for number in range(count):
        place = folder / "records" / f"{number // 100:03}" / f"{number:05}"
        place.mkdir(parents=True)
        called = f"26-{number:05}"
        if judged:
            batch = case()["batch.toml"].replace(b'id = "26-031"', f'id = "{called}"'.encode())
            table = case()["coupons.csv"].replace(b"2.873,", f"2.8{70 + number % 9},".encode())
            table = table.replace(b"\n01", f"\n{number:05}01".encode())
            data = seal(report_of("batch.toml", {**case(), "batch.toml": batch, "coupons.csv": table}))
        else:
            content["batch"] |= {"id": called, "molded": (day - dt.timedelta(days=number)).isoformat()}
            for specimen in content["specimens"]:
                specimen["specimen"] = f"{number:05}{specimen['specimen'][-2:]}"
            data = canonical(content)
        (place / "record.json").write_bytes(data)
        sign(place / "record.json", data, key)
    return allowed


def loading(folder: Path) -> None:
    """What reading every record takes without looking at it."""
    for path in sorted(folder.rglob("record.json")):
        orjson.loads(path.read_bytes())


def milliseconds(work, count: int) -> float:
    """Of the processor, for one record: the least of five, for what runs beside slows each otherwise."""
    took = []
    for _ in range(5):
        start = time.process_time()
        work()
        took.append(time.process_time() - start)
    return 1e3 * min(took) / count


def costs(count: int, few: int) -> dict[str, float]:
    """Milliseconds a record: read, taken as signed, and computed again in one process."""
    found = {}
    with TemporaryDirectory() as place:
        folder = Path(place)
        allowed = written(folder, count)
        found["parsed"] = milliseconds(lambda: loading(folder), count)
        answer = []
        found["proven by signatures"] = milliseconds(
            lambda: answer.append(trend(folder / "records", recompute=recompute, allowed_signers=allowed)),
            count,
        )
        assert (answer[0].proven, answer[0].computed) == (count, 0), answer[0].records[0].faults
    with TemporaryDirectory() as place:
        folder = Path(place)
        allowed = written(folder, few, judged=True)
        found["computed again"] = milliseconds(
            lambda: answer.append(
                trend(folder / "records", recompute=recompute, allowed_signers=allowed, compute_all=True)
            ),
            few,
        )
        assert answer[-1].computed == few, [filed.faults for filed in answer[-1].records if filed.faults][:1]
    return found


def main() -> None:
    """Print what a record takes."""
    for what, each in costs(int(sys.argv[1]) if len(sys.argv) > 1 else 1000, 8).items():
        print(f"{what:<24} {each:8.2f} ms a record")


if __name__ == "__main__":
    main()
