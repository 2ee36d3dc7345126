"""A shop of three people with keys of the system's ssh-keygen, and a record to sign."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from laminate.judging.reported import report
from laminate.records.differences import Rejudged
from laminate.records.record import seal
from laminate.records.signature import NotAllowed, Signed, Verification, sign, verify
from laminate.values.canonical import canonical, read_canonical

NOW = "2026-12-01T00:00:00Z"
TIMES = {
    "prepared": "2026-11-20T09:00:00Z",
    "reviewed": "2026-11-20T10:00:00Z",
    "released": "2026-11-20T11:00:00Z",
    "rejected": "2026-11-20T11:00:00Z",
}
PEOPLE = {"ann": "Ann Lee", "bob": "Bob Ray", "eve": "Eve Müller"}
ROLE_OF = {"ann": "prepared", "bob": "reviewed", "eve": "released"}
OTHER_ID = ("batch.toml", 'id = "26-031"', 'id = "26-032"')


def ssh_keygen(
    *arguments: str, stdin: bytes = b"", zone: str = "UTC", wanted: int | None = 0
) -> subprocess.CompletedProcess[bytes]:
    done = subprocess.run(
        ["ssh-keygen", *arguments],
        input=stdin,
        capture_output=True,
        check=False,
        env={"PATH": "/usr/bin:/bin", "TZ": zone, "HOME": "/nonexistent"},
    )
    if wanted is not None and done.returncode != wanted:
        raise AssertionError(f"ssh-keygen {' '.join(arguments)}: {done.returncode} {done.stderr!r}")
    return done


def make_key(path: Path, kind: str = "ed25519", *, passphrase: str = "", bits: str = "") -> Path:
    size = ["-b", bits] if bits else []
    ssh_keygen("-q", "-t", kind, *size, "-N", passphrase, "-C", path.name, "-f", str(path))
    return path


def public(key: Path) -> str:
    return " ".join(key.with_name(f"{key.name}.pub").read_text().split()[:2])


def record_bytes(
    answer: str = "conforms",
    characteristics: Sequence[tuple[str, str | None, str]] = (("fiber_volume", "web", "conforms"),),
    concession: dict[str, Any] | None = None,
    **more: object,
) -> bytes:
    rows = [{"name": name, "zone": zone, "decision": decision} for name, zone, decision in characteristics]
    return canonical(
        {"format": 2, "answer": answer, "characteristics": rows, "concession": concession, "n": 57.42, **more}
    )


def believed(data: bytes) -> Rejudged:
    """The answer of a recomputation that says what the record says."""
    try:
        content = read_canonical(data)
    except ValueError:
        return Rejudged(())
    return Rejudged((), content if isinstance(content, dict) else None)


@dataclass
class Shop:
    folder: Path
    keys: dict[str, Path] = field(default_factory=dict)

    @property
    def record(self) -> Path:
        return self.folder / "record.json"

    @property
    def allowed(self) -> Path:
        return self.folder / "allowed_signers"

    def allow(self, *lines: str) -> None:
        self.allowed.write_text("".join(f"{line}\n" for line in lines))

    def line(self, who: str, options: str | None = None) -> str:
        options = f'namespaces="laminate-record-{ROLE_OF[who]}"' if options is None else options
        return f'"{PEOPLE[who]}" {options} {public(self.keys[who])}'

    def allow_all(self) -> None:
        self.allow("# who signs what", *(self.line(who) for who in PEOPLE))

    def sign(self, who: str, role: str | None = None, **more: Any) -> Signed:
        role = role or ROLE_OF[who]
        call: dict[str, Any] = {
            "name": PEOPLE.get(who, "Dan Fox"),
            "key_path": self.keys[who],
            "time": TIMES.get(role, NOW),
            "recompute": believed,
            **more,
        }
        return sign(self.record, role, **call)

    def sign_all(self) -> list[Signed]:
        return [self.sign(who) for who in PEOPLE]

    def verify(self, **more: Any) -> Verification:
        return verify(self.record, self.allowed, **{"now": NOW, "recompute": believed, **more})

    def codes(self, **more: Any) -> set[str]:
        """Every reason that `verify` gives."""
        found = self.verify(**more)
        reasons = {reason.code for reason in found.reasons}
        reasons |= {reason.code for signature in found.signatures for reason in signature.reasons}
        if found.proven is bool(reasons):
            raise AssertionError("proven exactly where there is no reason against it")
        return reasons

    def statement(self, who: str, role: str | None = None) -> Path:
        encoded = {"ann": "Ann_Lee", "bob": "Bob_Ray", "eve": "Eve_M%C3%BCller"}[who]
        return self.folder / f"record.{role or ROLE_OF[who]}.{encoded}.statement"

    def signature(self, who: str, role: str | None = None) -> Path:
        statement = self.statement(who, role)
        return statement.with_name(f"{statement.name}.sig")


@pytest.fixture(scope="session")
def keys(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("keys")
    return {who: make_key(folder / who) for who in (*PEOPLE, "stranger")}


@pytest.fixture
def shop(tmp_path: Path, keys: dict[str, Path]) -> Shop:
    """Three people, each allowed one role, and an unsigned record that conforms."""
    folder = tmp_path / "out"
    folder.mkdir()
    made = Shop(folder, keys)
    made.record.write_bytes(record_bytes())
    made.allow_all()
    return made


@pytest.fixture
def signed(shop: Shop) -> Shop:
    """The record signed by all three."""
    shop.sign_all()
    return shop


@pytest.fixture
def first(shop: Shop, checkout: Path) -> Shop:
    """The record of the worked example in a folder of its own, prepared."""
    shutil.copytree(checkout / "examples/mast", shop.folder / "files")
    (shop.folder / "26-031").mkdir()
    shop.record.unlink()
    made = Shop(shop.folder / "26-031", shop.keys)
    made.record.write_bytes(sealed(shop.folder / "files"))
    made.allow_all()
    made.sign("ann", time="2026-11-21T00:00:00Z")
    return made


@pytest.fixture
def copy_of(tmp_path: Path) -> Callable[[Shop, str], Shop]:
    """A copy with its signatures, where it is not seen beside the record."""

    def copy(shop: Shop, name: str) -> Shop:
        return Shop(Path(shutil.copytree(shop.folder, tmp_path / name / "out")), shop.keys)

    return copy


def sealed(folder: Path, *changes: tuple[str, str, str]) -> bytes:
    copy = Path(shutil.copytree(folder, folder.with_name("changed"), dirs_exist_ok=True))
    for name, old, new in changes:
        text = (copy / name).read_text("utf-8")
        if old not in text:
            raise AssertionError(f"{old!r} is not in {name}")
        (copy / name).write_text(text.replace(old, new), "utf-8")
    return seal(report(copy / "batch.toml"))


def put(first: Shop, data: bytes, name: str = "other") -> None:
    folder = first.folder.parent / name
    folder.mkdir()
    (folder / "record.json").write_bytes(data)


def released(first: Shop, **more: object) -> list[str]:
    try:
        first.sign("eve", time="2026-11-22T00:00:00Z", **more)
    except NotAllowed as rule:
        return [finding.code for finding in rule.findings if finding.code not in ("not-conforming",)]
    return []
