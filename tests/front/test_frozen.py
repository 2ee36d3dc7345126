"""What `read_part` and `read_batch` return does not change, however deep; copies and pickles neither."""

import copy
import pickle
from pathlib import Path

import pytest

import laminate as lam

MAST = Path(__file__).parents[2] / "examples" / "mast"
CHANGES = [
    lambda part: part.zone.pop("skin"),
    lambda part: part.zone.update(skin=part.zone["web"]),
    lambda part: part.zone.__setitem__("skin", part.zone["web"]),
    lambda part: part.zone.__delitem__("skin"),
    lambda part: part.zone["web"].stack.append("4 ud150"),
    lambda part: part.zone["web"].stack.__iadd__(["4 ud150"]),
    lambda part: part.plan["web"].methods.clear(),
    lambda part: part.plan.setdefault("skin", part.plan["web"]),
    lambda part: part.pooled.update(web={}),
]


@pytest.mark.parametrize("change", CHANGES)
@pytest.mark.parametrize(
    "copied", [lambda part: part, copy.deepcopy, lambda p: pickle.loads(pickle.dumps(p))]
)
def test_a_part_does_not_change(change, copied):
    part = copied(lam.read_part(MAST / "part.toml"))
    with pytest.raises(TypeError):
        change(part)
    assert part == lam.read_part(MAST / "part.toml")


def test_a_batch_does_not_change():
    batch = lam.read_batch(MAST / "batch.toml").batch
    with pytest.raises(TypeError):
        batch.lot.pop()
    with pytest.raises(TypeError):
        batch.batch.plies["web"] = 30


def test_tables_of_a_part_are_still_tables():
    part = lam.read_part(MAST / "part.toml")
    assert isinstance(part.zone, dict)
    assert {**part.zone} == part.zone
    assert part.zone["web"].stack == ["4 ud150", "1 film"]
