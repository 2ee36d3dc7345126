"""A record as `report` seals it, of the worked example: signed, verified, and computed again."""

from __future__ import annotations

from pathlib import Path

import pytest

from laminate.cli import app
from laminate.judging.reported import report
from laminate.records.record import recompute, seal
from laminate.records.rules import read_record
from laminate.records.signature import Rule
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
        with pytest.raises(Rule) as caught:
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


def test_a_forged_answer_is_not_released(real: Shop) -> None:
    """What `verify` would not prove, nobody releases; who prepares it is told what differs."""
    content = read_canonical(real.record.read_bytes())
    assert isinstance(content, dict)
    assert content["answer"] == "conforms"
    first, *rest = content["characteristics"]
    better = [{**first, "probability_of_conformity": 0.5}, *rest]
    real.record.write_bytes(canonical({**content, "characteristics": better}))
    done = real.sign("ann", recompute=recompute)
    assert any("probability_of_conformity" in note for note in done.notes)
    with pytest.raises(Rule) as caught:
        real.sign("eve", recompute=recompute)
    assert {finding.code for finding in caught.value.findings} == {"recomputed-differs"}
