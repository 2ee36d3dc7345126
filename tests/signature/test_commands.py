"""`sign` and `verify` as people type them: exit status, words, JSON, and the passphrase on a terminal."""

from __future__ import annotations

import json
import os
import pty
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

import laminate as lam
from laminate.cli import app
from laminate.judging.reported import report
from laminate.records.record import seal
from tests.messages.wording import reads, says

from .conftest import PEOPLE, ROLE_OF, Shop, believed, make_key, public, record_bytes, ssh_keygen


@pytest.fixture
def shop(shop: Shop, checkout: Path) -> Shop:
    """The shop with a record that can be computed again."""
    shop.record.write_bytes(seal(report(checkout / "examples/mast/batch.toml")))
    return shop


def typed(shop: Shop, who: str, *more: str) -> list[str]:
    name = ["--role", ROLE_OF[who], "--name", PEOPLE[who]]
    return ["sign", str(shop.record), *name, "--key", str(shop.keys[who]), *more]


def checked(shop: Shop, *more: str) -> list[str]:
    return ["verify", str(shop.record), "--allowed-signers", str(shop.allowed), *more]


def test_three_people_sign_and_an_auditor_verifies(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    for who in PEOPLE:
        assert app.status(typed(shop, who)) == 0
        out = capsys.readouterr().out
        assert f"Signed as {ROLE_OF[who]} by {PEOPLE[who]}" in out
        assert ("authorized staff" in out) is (who == "eve")
    assert app.status(checked(shop, "--need", "released")) == 0
    out, err = capsys.readouterr()
    assert out.startswith(f"Proven: {shop.record}, conforms; ")
    assert "not proven" not in out.lower()
    assert says("signature: three people sign and an auditor", out)
    assert "authorized staff" in out
    assert err == ""


@pytest.mark.parametrize("case", ["nobody signed", "role missing", "changed", "proven"])
def test_the_library_says_what_the_command_prints(
    shop: Shop, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, case: str
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    if case != "nobody signed":
        assert app.status(typed(shop, "ann")) == 0
    if case == "changed":
        shop.record.write_bytes(shop.record.read_bytes().replace(b"0101", b"0109"))
    need = ["released"] if case == "role missing" else []
    capsys.readouterr()
    good = app.status(checked(shop, *(f"--need={role}" for role in need))) == 0
    screen = capsys.readouterr().out
    verified = lam.verify(str(shop.record), shop.allowed, need=need)
    assert (good, verified.good) == (case == "proven",) * 2
    shown = repr(verified)
    first = shown.split(":")[0]
    assert first == ("Proven" if good else "NOT PROVEN") == screen.split(":")[0]
    assert screen.startswith(shown[: shown.rfind("\n")])
    assert first in verified._repr_html_()
    assert len(verified.to_frame()) == (case != "nobody signed")


def test_json(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert app.status(typed(shop, "ann", "--json")) == 0
    done = json.loads(capsys.readouterr().out)
    assert (done["format"], done["signed"], done["role"], done["name"]) == (1, True, "prepared", "Ann Lee")
    assert Path(done["signature"]).is_file()
    assert app.status(checked(shop, "--json")) == 0
    assert json.loads(capsys.readouterr().out)["signatures"][0]["verdict"] == "proven"
    assert app.status(typed(shop, "ann", "--json")) == 1
    no = json.loads(capsys.readouterr().out)
    assert (no["signed"], no["reasons"][0]["code"]) == (False, "signed-twice")
    assert app.status(checked(shop, "--json", "--need", "released")) == 1
    no = json.loads(capsys.readouterr().out)
    assert (no["proven"], no["reasons"][0]["code"]) == (False, "role-missing")
    assert app.status(checked(shop, "--json", "--need", "released", "--need", "prepared")) == 1
    assert [reason["code"] for reason in json.loads(capsys.readouterr().out)["reasons"]] == ["role-missing"]
    assert app.status(checked(shop, "--json", "--need", "boss")) == 2
    assert json.loads(capsys.readouterr().out)["problems"][0]["place"] == "--need"


def test_a_refusal_by_a_rule_is_the_answer_no(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert app.status(typed(shop, "eve")) == 1
    out, err = capsys.readouterr()
    assert reads("signature: a refusal by a rule is the answer", out)
    assert err == ""


def test_what_differs_is_said(signed: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    signed.record.write_bytes(record_bytes(n=57.43))
    assert app.status(checked(signed)) == 1
    out = capsys.readouterr().out
    assert out.startswith("NOT PROVEN: ")
    assert sum(says("signature: the record was changed", line) for line in out.splitlines()) == 3
    revoked = signed.folder / "revoked"
    revoked.write_text(public(signed.keys["bob"]))
    assert app.status(checked(signed, "--revoked", str(revoked))) == 1
    assert "is revoked" in capsys.readouterr().out


def test_nobody_signed(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert app.status(checked(shop)) == 1
    assert says("signature: nobody signed", capsys.readouterr().out)


def test_rejected_says_what_becomes_of_the_goods(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    call = [
        "sign",
        str(shop.record),
        "--role",
        "rejected",
        "--name",
        "Eve Müller",
        "--key",
        str(shop.keys["eve"]),
    ]
    assert app.status(call) == 2
    assert says("signature: rejected says what becomes", capsys.readouterr().err)
    assert app.status([*call, "--goods", "cut up [red]and[/red] weighed"]) == 0
    shop.allow(shop.line("eve", ""))
    capsys.readouterr()
    assert app.status(checked(shop)) == 0
    assert says("signature: rejected says what becomes, 2", capsys.readouterr().out)


def test_files_on_the_disk_cannot_drive_the_terminal(
    signed: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    (signed.folder / "record.prepared.\x1b[2Jx.statement").write_bytes(b'{"\\u001b[31m":1}')
    signed.statement("bob").write_bytes('{"\x7f\u202e":1}'.encode())
    assert app.status(checked(signed)) == 1
    out = capsys.readouterr().out
    assert "\x1b" not in out
    assert "\u202e" not in out
    assert "\\x1b[2Jx" in out


@pytest.mark.parametrize("missing", ["record", "key", "allowed", "revoked", "passphrase"])
def test_a_missing_file_is_a_wrong_call(
    shop: Shop, capsys: pytest.CaptureFixture[str], missing: str, tmp_path: Path
) -> None:
    none = str(tmp_path / "none")
    if missing == "record":
        shop.record.unlink()
        call = typed(shop, "ann")
    elif missing == "key":
        call = [*typed(shop, "ann")[:-1], none]
    elif missing == "passphrase":
        call = typed(shop, "ann", "--passphrase-file", none)
    elif missing == "allowed":
        call = [*checked(shop)[:-1], none]
    else:
        call = checked(shop, "--revoked", none)
    assert app.status(call) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert says("signature: a missing file is a wrong call", err.lower())
    assert "Traceback" not in err


def locked(shop: Shop, tmp_path: Path) -> Shop:
    shop.keys = {**shop.keys, "ann": make_key(tmp_path / "locked", passphrase="wet plies  ±")}
    shop.allow_all()
    return shop


@pytest.mark.parametrize(
    ("content", "status"),
    [
        ("wet plies  ±\n", 0),
        ("wet plies  ±\r\nmore", 0),
        ("wet plies  ±", 0),
        ("wet plies", 2),
        ("", 2),
        ("\n", 2),
    ],
)
def test_a_passphrase_file(shop: Shop, tmp_path: Path, content: str, status: int) -> None:
    file = tmp_path / "secret"
    file.write_bytes(content.encode())
    assert app.status(typed(locked(shop, tmp_path), "ann", "--passphrase-file", str(file))) == status
    assert shop.signature("ann").exists() is (status == 0)


def run(arguments: list[str], **more: Any) -> subprocess.CompletedProcess[bytes]:
    program = [sys.executable, "-m", "laminate", *arguments]
    return subprocess.run(program, capture_output=True, check=False, timeout=60, **more)


def test_without_a_terminal_the_passphrase_is_not_waited_for(shop: Shop, tmp_path: Path) -> None:
    done = run(typed(locked(shop, tmp_path), "ann"), stdin=subprocess.DEVNULL)
    assert done.returncode == 2
    assert b"--passphrase-file FILE" in done.stderr


@pytest.mark.parametrize(
    ("pressed", "status", "said"),
    [
        ("wet plies  ±\n", 0, "Signed as prepared by Ann Lee"),
        ("no\n", 2, "a passphrase that does not open the key"),
        ("\x03", 130, ""),
        ("\x04", 130, ""),
    ],
)
def test_the_passphrase_is_asked_on_the_terminal(
    shop: Shop, tmp_path: Path, pressed: str, status: int, said: str
) -> None:
    arguments = typed(locked(shop, tmp_path), "ann")
    child, terminal = pty.fork()
    if child == 0:
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a run in the background may have it ignored
        os.execv(sys.executable, [sys.executable, "-m", "laminate", *arguments])
    shown = b""
    while b"passphrase of the key: " not in shown:
        shown += os.read(terminal, 1000)
    os.write(terminal, pressed.encode())
    try:
        while part := os.read(terminal, 1000):
            shown += part
    except OSError:
        pass  # the terminal is closed
    assert os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]) == status
    text = shown.decode()
    assert said in " ".join(text.split())
    assert "wet plies" not in text
    assert "Traceback" not in text


def test_an_auditor_needs_ssh_keygen_alone(shop: Shop) -> None:
    assert run(typed(shop, "ann")).returncode == 0
    statement = shop.statement("ann").read_bytes()
    ssh_keygen(
        *("-Y", "verify", "-f", str(shop.allowed), "-I", "Ann Lee", "-n", "laminate-record-prepared"),
        *("-s", str(shop.signature("ann"))),
        stdin=statement,
    )
    digest = subprocess.run(["sha256sum", str(shop.record)], capture_output=True, check=True).stdout.split()[
        0
    ]
    assert json.loads(statement)["record"] == digest.decode()


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (
            ["--role", "prepred", "--name", "Ann Lee"],
            "--role: found 'prepred', expected one of prepared, reviewed, released, rejected; "
            "did you mean 'prepared'?",
        ),
        (
            ["--role", "prepared", "--name", " "],
            "--name is missing: the name of who signs",
        ),
        (
            ["--role", "rejected", "--name", "Ann Lee"],
            "--goods is missing: words on what becomes of the rejected goods",
        ),
        (
            ["--role", "released", "--name", "Ann Lee", "--goods", "cut up"],
            "--goods: found 'cut up', expected no --goods with the role 'released': it belongs to 'rejected'",
        ),
    ],
)
def test_a_wrong_call_is_told_plainly(
    shop: Shop, capsys: pytest.CaptureFixture[str], arguments: list[str], sentence: str
) -> None:
    assert app.status(["sign", str(shop.record), "--key", str(shop.keys["ann"]), *arguments]) == 2
    assert capsys.readouterr().err == f"{sentence}\n"


def test_who_signs_twice_is_told_plainly(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    shop.sign("ann")
    call = [
        "sign",
        str(shop.record),
        "--role",
        "prepared",
        "--name",
        "Ann Lee",
        "--key",
        str(shop.keys["ann"]),
    ]
    assert app.status(call) == 1
    assert says("signature: who signs twice is told plainly", capsys.readouterr().out)


def test_a_missing_list_of_signers_is_asked_for(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    assert app.status(["verify", str(shop.record)]) == 2
    assert reads("signature: a missing list of signers is asked", capsys.readouterr().err)


@pytest.mark.parametrize("name", ["Ann Lee", 'Ann "A*" Lee, Dr.'])
@pytest.mark.parametrize("with_public", [True, False])
def test_the_line_of_a_role_lets_its_key_sign(
    shop: Shop, tmp_path: Path, capsys: pytest.CaptureFixture[str], name: str, with_public: bool
) -> None:
    key = tmp_path / "key"
    make_key(key)
    if not with_public:
        key.with_name("key.pub").unlink()
    call = ["sign", "--role", "prepared", "--name", name, "--key", str(key)]
    assert app.status([*call, "--print-signer"]) == 0
    shop.allow(capsys.readouterr().out.strip())
    assert app.status([*call, str(shop.record)]) == 0
    assert shop.verify(need="prepared", now="2100-01-01T00:00:00Z").proven


def test_without_a_key_it_says_how_to_make_one(shop: Shop, capsys: pytest.CaptureFixture[str]) -> None:
    call = ["sign", str(shop.record), "--role", "prepared", "--name", "Ann Lee", "--json"]
    assert app.status(call) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["place"]) == ("missing", "--key")
    assert "ssh-keygen -t ed25519" in problem["hint"]
    assert "--print-signer" in problem["hint"]


def test_what_stands_beside_the_answer_is_said_by_sign_and_verify(
    shop: Shop, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    beside: dict[str, Any] = {
        "not_judged": ["zone skin: neither planned nor measured"],
        "exclusions": [{"specimen": "F-3", "reason": "crucible cracked", "operator": "JM"}],
        "accepted": [{"specimen": "F-4", "reason": "on a ridge"}],
        "corrections": [{"specimen": "F-5", "old": "0.5225", "new": "0.5301"}],
        "declared": [{"key": "instrument.balance.traceable", "reason": "checked with weight W-3"}],
    }
    shop.record.write_bytes(record_bytes(**beside))
    monkeypatch.setattr("laminate.records.record.recompute", believed)
    said = ("zone skin", "crucible cracked", "F-4", "0.5301", "checked with weight W-3")
    for call in (
        ["sign", str(shop.record), "--role", "prepared", "--name", "Ann Lee", "--key", str(shop.keys["ann"])],
        ["verify", str(shop.record), "--allowed-signers", str(shop.allowed)],
    ):
        assert app.status(call) == 0
        out = " ".join(capsys.readouterr().out.split())
        assert [words for words in said if words not in out] == []
    app.status(["verify", str(shop.record), "--allowed-signers", str(shop.allowed), "--json"])
    answer = json.loads(capsys.readouterr().out)
    assert {key: answer[key] for key in beside} == beside
    assert answer["answer_today"] == answer["answer"] == "conforms"
