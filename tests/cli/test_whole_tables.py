"""A table through a pipe is laid out without the library of the screen: line for line the same."""

import random

import pytest

from laminate.show import terminal

CELLS = ["a", "[0/45]2s", "°", "±", "漢字", "", "3 ± 0.1 mm", "two\nlines", "x", "12", "−4"]


@pytest.mark.parametrize("seed", range(60))
def test_the_same_lines_as_on_a_screen_wide_enough(seed):
    draw = random.Random(seed)
    columns = draw.randint(1, 5)
    rows = [[draw.choice(CELLS) for _ in range(columns)] for _ in range(draw.randint(0, 6))]
    head = [draw.choice(["what", "value", "größe"]) for _ in range(columns)]
    right = [place for place in range(columns) if draw.random() < 0.4]
    assert terminal.lines(head, rows, right=right) == terminal.lines(head, rows, width=1000, right=right)
