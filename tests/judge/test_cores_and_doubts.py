"""Which cores a report lists, and which characteristics a doubt about a blank or a check standard moves."""

from types import SimpleNamespace

import pytest

from laminate.judging.doubts import touched

CORES = [  # core of the part with a limit of moldings, core of the batch file with its moldings: listed, open
    (None, None, False, False),
    (None, 7, True, False),
    (50, None, True, True),
    (50, 50, True, False),
    (50, 51, True, True),
]


def with_core(shop, limit, moldings):
    part = shop.read("part.toml")
    lines = [line for line in part.splitlines() if not line.startswith("limit_moldings")]
    if limit is not None:
        lines.insert(lines.index("[core.fore]") + 1, f"limit_moldings = {limit}")
    shop.write("part.toml", "\n".join(lines) + "\n")
    batch = shop.read("batch.toml").splitlines()
    if "[core_used.fore]" in batch:
        at = batch.index("[core_used.fore]")
        end = next((i for i in range(at + 1, len(batch)) if batch[i].startswith("[")), len(batch))
        del batch[at:end]
    if moldings is not None:
        batch += ["[core_used.fore]", 'identity = "SC-4"', f"moldings = {moldings}"]
    shop.write("batch.toml", "\n".join(batch) + "\n")


@pytest.mark.parametrize(("limit", "moldings", "listed", "held"), CORES)
def test_a_core_is_listed_where_it_was_used_or_has_a_limit(shop, limit, moldings, listed, held):
    with_core(shop, limit, moldings)
    answer = shop.json("report", "batch.toml", status=[0, 1])
    cores = [core for core in answer["batch"]["cores"] if core["core"] == "fore"]
    assert bool(cores) is listed
    assert any(row["rule"] == 6 for row in answer["held_back"]) is held
    if listed:
        assert (cores[0]["moldings"], cores[0]["limit_moldings"]) == (moldings, limit)


@pytest.mark.parametrize(("kind", "moved"), [("check standard", "immersed"), ("blank resin", "burnt")])
def test_a_check_standard_moves_what_is_weighed_in_liquid_and_a_blank_what_is_burnt(kind, moved):
    specimen = SimpleNamespace(name="0101")
    fed = [
        SimpleNamespace(
            characteristic=SimpleNamespace(label=label), specimen=specimen, columns=(),
            immersed=label == "immersed", by_loss=label == "burnt",
        )
        for label in ("immersed", "burnt", "thickness")
    ]  # fmt: skip
    doubt = SimpleNamespace(coupon=SimpleNamespace(kind=kind, specimen="S1"), column="mass in air")
    assert touched(doubt, fed) == {moved: ""}
