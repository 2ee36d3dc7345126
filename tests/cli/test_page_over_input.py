"""A page is never written over a file that is no page."""

import pytest

from laminate.cli import app


@pytest.mark.parametrize("call", [("report", "batch.toml"), ("fill", "part.toml", "--draws", "1000")])
def test_a_page_is_not_written_over_an_input(tmp_path, monkeypatch, capsys, call):
    monkeypatch.chdir(tmp_path)
    assert app.status(["example", "."]) == 0
    before = (tmp_path / "part.toml").read_bytes()
    capsys.readouterr()
    assert app.status([*call, "--html", "part.toml"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("part.toml: --html: ")
    assert (tmp_path / "part.toml").read_bytes() == before
    assert app.status([*call, "--html", "page.html"]) in (0, 1)
