"""How often a whole program looks for garbage."""

from __future__ import annotations

import gc


def look_seldom() -> None:
    """For a process that makes many small objects which live until it ends: cycles are looked for seldom, which saves a tenth of its time."""
    gc.set_threshold(400_000, 20, 20)
