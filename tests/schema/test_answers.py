"""Every answer as JSON has the keys and types of its schema, and no other."""

from __future__ import annotations

import asyncssh
import jsonschema
import pytest

from laminate.cli.app import status
from laminate.show.schemas import KINDS, schema

FEW = ["--draws", "1000"]
SIGN = ["--role", "prepared", "--name", "Ann Lee", "--key", "key"]
CALLS = [
    ("mast", "predict", "part.toml"),
    ("mast", "measure", "batch.toml"),
    ("mast", "report", "batch.toml"),
    ("mast", "correct", "batch.toml"),
    ("mast", "report", "batch.toml", "--out", "another"),
    ("mast", "trend", "kept"),
    ("mast", "sign", "kept/record.json", *SIGN),
    ("mast", "sign", "signed/record.json", *SIGN),  # a second time, which no rule allows
    ("mast", "verify", "signed/record.json", "--allowed-signers", "signers"),
    ("mast", "verify", "part.toml", "--allowed-signers", "signers"),
    ("mast", "extract", "kept/record.json", "again"),
    ("cycle", "cycle", "batch.toml"),
    ("cycle", "report", "batch.toml"),
    ("mast", "fill", "part.toml", *FEW),
    ("mast", "core", "part.toml", *FEW),
    ("paddle", "fill", "part.toml", *FEW),
    ("panel", "fill", "part.toml", *FEW),
    ("bladder", "fill", "part.toml", *FEW),
    ("oil", "core", "part.toml", *FEW),
    ("box", "core", "part.toml", *FEW),
]


@pytest.fixture(scope="module")
def cases(tmp_path_factory):
    folder = tmp_path_factory.mktemp("cases")
    for case in {case for case, *_ in CALLS}:
        assert status(["example", str(folder / case), "--case", case]) == 0
    mast = folder / "mast"
    key = asyncssh.generate_private_key("ssh-ed25519")
    key.write_private_key(str(mast / "key"))
    (mast / "key").chmod(0o600)
    (mast / "signers").write_text(f'"Ann Lee" {key.export_public_key().decode()}')
    for kept in ("kept", "signed"):
        assert status(["report", str(mast / "batch.toml"), "--out", str(mast / kept)]) == 0
    signed = [*SIGN[:-1], str(mast / "key")]
    assert status(["sign", str(mast / "signed/record.json"), *signed]) == 0
    return folder


def test_each_answer_has_a_schema_and_a_call():
    assert {command for _, command, *_ in CALLS} == set(KINDS) - {"part", "batch", "record"}


@pytest.mark.parametrize("call", CALLS, ids=" ".join)
def test_an_answer_is_what_its_schema_says(cases, call, capsys, monkeypatch):
    import json

    case, command, *rest = call
    monkeypatch.chdir(cases / case)
    capsys.readouterr()
    assert status([command, *rest, "--json"]) in (0, 1)
    answer = json.loads(capsys.readouterr().out)
    found = jsonschema.Draft202012Validator(schema(command))
    assert [f"{error.json_path}: {error.message}" for error in found.iter_errors(answer)] == []
    assert list(found.iter_errors({**answer, "other": 1}))
    assert list(found.iter_errors({key: answer[key] for key in [*answer][:1]}))
