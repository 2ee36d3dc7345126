"""What is a reason: words, and more than a yes or no."""

NO_REASONS = ("no", "n", "yes", "y", "x", "true", "false", "0", "1", "-", "none", "ok")


def is_reason(text: str) -> bool:
    """Whether a text says why, in words.

    >>> is_reason("crucible cracked"), is_reason("ok"), is_reason("12")
    (True, False, False)
    """
    plain = text.strip().casefold()
    return plain not in NO_REASONS and any(sign.isalpha() for sign in plain)
