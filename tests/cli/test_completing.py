"""What a shell is told where a person presses Tab."""

import pytest

from laminate.cli import completing


@pytest.fixture
def asked(shop, monkeypatch):
    def ask(line):
        words = line.split(" ")
        monkeypatch.setenv(completing.VARIABLE, "complete_bash")
        monkeypatch.setenv("COMP_WORDS", line)
        monkeypatch.setenv("COMP_CWORD", str(len(words) - 1))
        assert completing.answer() == 0
        return shop.capsys.readouterr().out.split()

    return ask


def test_commands(asked):
    assert asked("laminate pre") == ["predict"]
    assert {"report", "record"} & set(asked("laminate rep")) == {"report"}


def test_options(asked):
    assert set(asked("laminate measure --bal")) >= {"--balance", "--balance-calibration"}


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("laminate fill part.toml --zone ", ["web", "skin"]),
        ("laminate fill part.toml --zone w", ["web"]),
        ("laminate fill part.toml --plies s", ["skin="]),
        ("laminate core part.toml --core ", ["fore"]),
        ("laminate core missing.toml --core ", []),
        ("laminate sign --role re", ["reviewed", "released", "rejected"]),
        ("laminate schema b", ["batch"]),
        ("laminate example new --case pa", ["paddle", "panel"]),
        ("laminate report batch.toml --units ", ["metric", "us"]),
    ],
)
def test_names_of_the_file_and_words(line, words, asked):
    assert sorted(asked(line)) == sorted(words)


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_the_lines_that_make_a_shell_ask(shell, shop, monkeypatch):
    monkeypatch.setenv(completing.VARIABLE, f"source_{shell}")
    assert completing.answer() == 0
    assert f"{completing.VARIABLE}" in shop.capsys.readouterr().out
