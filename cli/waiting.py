"""A sign on standard error, where that is a terminal, that a call is still at work after a second."""

from __future__ import annotations

import sys
from threading import Event, Thread
from time import monotonic
from typing import Any

AFTER, EVERY = 1.0, 0.2
"""Seconds until the sign appears, and between its steps."""
STEPS = "|/-\\"
WIPE = "\r\x1b[K"


class Spinner:
    """Turns in a thread of its own from `__enter__` on, until something is printed or the work ends."""

    def __init__(self, name: str) -> None:
        self.name, self.ended, self.thread = name, Event(), Thread(target=self._turn, daemon=True)
        self.out, self.err = sys.stdout, sys.stderr

    def __enter__(self) -> None:
        global _current
        if self.err is not None and self.err.isatty():
            _current = self
            sys.stdout = _SpinnerAwareStream(self.out)
            self.thread.start()

    def __exit__(self, *_: object) -> None:
        global _current
        if _current is self:
            stop()
            sys.stdout, _current = self.out, None

    def _turn(self) -> None:
        start, steps, shown = monotonic(), 0, False
        while not self.ended.wait(EVERY if shown else AFTER):
            shown, steps = True, steps + 1
            seconds = monotonic() - start
            self.err.write(f"{WIPE}{self.name}: at work {STEPS[steps % len(STEPS)]} {seconds:.0f} s")
            self.err.flush()
        if shown:
            self.err.write(WIPE)
            self.err.flush()


class _SpinnerAwareStream:
    """Standard output that takes the sign away before anything is written to it."""

    def __init__(self, out: Any) -> None:
        self._out = out

    def __getattr__(self, name: str) -> Any:
        if name in ("write", "writelines", "buffer"):
            stop()
        return getattr(self._out, name)


_current: Spinner | None = None


def stop() -> None:
    """Take the sign away: something is printed or asked, or a bar shows how far the work is."""
    if _current is not None and not _current.ended.is_set():
        _current.ended.set()
        if _current.thread.is_alive():
            _current.thread.join()
