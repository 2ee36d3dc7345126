"""A record as `report` seals it, of the worked example: signed, verified, and computed again."""

from __future__ import annotations

import shutil
from importlib.resources import files
from pathlib import Path

import pytest

from laminate.cli import app
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.records.rules import read_record
from laminate.records.signature import NotAllowed
from laminate.values.canonical import canonical, read_canonical
from tests.messages.wording import says

from .conftest import Shop


@pytest.fixture
def real(shop: Shop, checkout: Path) -> Shop:
    shop.record.write_bytes(seal(report(checkout / "examples" / "mast" / "batch.toml")))
    return shop


def test_a_real_record_is_read_signed_and_proven(real: Shop) -> None:
    record = read_record(real.record.read_bytes())
    assert record.judged
    real.sign("ann")
    real.sign("bob")
    found = real.verify(recompute=recompute)
    assert found.proven
    assert found.answer == record.answer
    if record.answer == "conforms":
        real.sign("eve")
        assert real.verify(recompute=recompute, need="released").proven
    else:
        with pytest.raises(NotAllowed) as caught:
            real.sign("eve")
        assert says("signature: a real record is read signed", str(caught.value))


def test_a_better_answer_written_into_it_is_noticed_although_all_sign_it(
    real: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    content = read_canonical(real.record.read_bytes())
    assert isinstance(content, dict)
    other = "conforms" if content["answer"] != "conforms" else "undecided"
    real.record.write_bytes(canonical({**content, "answer": other}))
    real.sign("ann")
    found = real.verify(recompute=recompute)
    assert {reason.code for reason in found.reasons} == {"recomputed-differs"}
    assert all(one.proven for one in found.signatures)
    assert app.status(["verify", str(real.record), "--allowed-signers", str(real.allowed)]) == 1
    assert "NOT PROVEN" in capsys.readouterr().out


@pytest.fixture
def forged(real: Shop) -> Shop:
    """A record whose answer is better than what is computed of its files."""
    worse = sealed_with(real, 'max = "2 %"', 'max = "0.1 %"')
    assert worse["answer"] == "does not conform"
    real.record.write_bytes(canonical({**worse, "answer": "conforms"}))
    return real


def sealed_with(real: Shop, old: str, new: str) -> dict[str, object]:
    folder = Path(shutil.copytree(files("laminate.examples") / "mast", real.folder.parent / "files"))
    part = folder / "part.toml"
    part.write_text(part.read_text("utf-8").replace(old, new), "utf-8")
    content = read_canonical(seal(report(folder / "batch.toml")))
    assert isinstance(content, dict)
    return content


@pytest.mark.parametrize("who", ["ann", "bob", "eve"])
def test_nobody_prepares_reviews_or_releases_an_answer_that_is_not_computed(forged: Shop, who: str) -> None:
    with pytest.raises(NotAllowed) as refused:
        forged.sign(who, recompute=recompute)
    assert "recomputed-differs" in [finding.code for finding in refused.value.findings]
    assert says("signature: a record that was forged and then", str(refused.value))


def test_what_is_computed_today_stands_first_and_last(
    forged: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """Of a rejected record too, which is signed with the answer that it states."""
    name = ["--role", "rejected", "--name", "Bob Ray", "--goods", "scrapped", "--key"]
    assert app.status(["sign", str(forged.record), *name, str(forged.keys["bob"])]) == 0
    answer = "does not conform"
    lines = capsys.readouterr().out.splitlines()
    assert answer in " ".join(lines[:4])
    assert "conforms" in " ".join(lines[:4])
    assert app.status(["verify", str(forged.record), "--allowed-signers", str(forged.allowed)]) == 1
    lines = capsys.readouterr().out.splitlines()
    first = " ".join(lines[: next(at for at, line in enumerate(lines) if line.startswith("  - "))])
    assert first.startswith(f"NOT PROVEN: {forged.record}, {answer}")
    assert first.index(answer) < first.index("conforms")
    assert " ".join(lines).endswith(first)


BETTER = {
    "quantity": {"batch": {"quantity": 1200}},
    "readings": {"readings": []},
    "chance": {"chance_of_all": 1.0},
}


@pytest.mark.parametrize("change", BETTER.values(), ids=BETTER)
@pytest.mark.parametrize("who", ["ann", "bob", "eve"])
def test_figures_that_are_not_computed_are_signed_in_no_role_but_rejected(
    real: Shop, change: dict[str, object], who: str
) -> None:
    """What `verify` would not prove of a record, nobody stands for; who rejects it reads what differs."""
    content = read_canonical(real.record.read_bytes())
    assert isinstance(content, dict)
    assert content["answer"] == "conforms"
    batch = (
        {**content["batch"], **change["batch"]} if isinstance(change.get("batch"), dict) else content["batch"]
    )
    real.record.write_bytes(canonical({**content, **change, "batch": batch}))
    with pytest.raises(NotAllowed) as caught:
        real.sign(who, recompute=recompute)
    codes = {finding.code for finding in caught.value.findings}
    assert codes == {"recomputed-differs", *(["not-prepared"] if who == "eve" else [])}
    done = real.sign(who, "rejected", goods="scrapped", recompute=recompute)
    assert any(next(iter(change)) in note for note in done.notes)
