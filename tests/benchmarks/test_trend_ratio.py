"""What `trend` takes for a signed record, beside parsing it and beside computing it again, in one run."""

import importlib.util
from pathlib import Path

_found = importlib.util.spec_from_file_location("archive", Path(__file__).with_name("archive.py"))
archive = importlib.util.module_from_spec(_found)
_found.loader.exec_module(archive)


def test_what_signatures_prove_is_not_computed_again(benchmark):
    found = benchmark.pedantic(archive.costs, args=(100, 5), rounds=1)
    benchmark.extra_info.update({what: round(each, 2) for what, each in found.items()})
    assert found["computed again"] > 5 * found["proven by signatures"]
    assert found["proven by signatures"] < 100 * found["parsed"]
