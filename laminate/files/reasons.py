"""What is a reason: words, and more than a yes or no."""

UNTOLD = ("n/a", "n.a.", "na", "none", "nil", "nothing", "tbd", "tba", "unknown", "not known", "not told")
"""What stands in a cell that must not be empty, and says nothing."""

NO_REASONS = ("no", "n", "yes", "y", "x", "true", "false", "0", "1", "-", "ok", *UNTOLD)


def is_told(text: str) -> bool:
    """Whether a text names something: an identity, a number, serials.

    >>> is_told("BAL-02"), is_told("1"), is_told(" ? "), is_told("N/A")
    (True, True, False, False)
    """
    plain = " ".join(text.casefold().split())
    return plain not in UNTOLD and any(sign.isalnum() for sign in plain)


def is_reason(text: str) -> bool:
    """Whether a text says why, in words.

    >>> is_reason("crucible cracked"), is_reason("ok"), is_reason("12")
    (True, False, False)
    """
    plain = text.strip().casefold()
    return plain not in NO_REASONS and any(sign.isalpha() for sign in plain)
