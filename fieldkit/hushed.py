"""What a solver's library prints by itself stays off the user's output: a figure asked for as JSON stays JSON."""

from __future__ import annotations

import ctypes
import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def hushed() -> Iterator[None]:
    """Keep what the solver's library prints by itself, options notwithstanding, off the user's output."""
    if os.name != "posix":
        yield
        return
    library = ctypes.CDLL(None)
    if sys.stdout is not None:
        sys.stdout.flush()
    library.fflush(None)
    try:
        kept = os.dup(1)
    except OSError:  # there is no output to keep clean
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 1)
    try:
        yield
    finally:
        library.fflush(None)
        os.dup2(kept, 1)
        os.close(kept)
        os.close(nowhere)
