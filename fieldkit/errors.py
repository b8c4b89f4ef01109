"""What can go wrong, by what the reader can do about it; the exit code belongs to the class.

=====================  ====  ==========================================================
class                  exit  the reader can
=====================  ====  ==========================================================
``InputFaults``          1   mend the listed places, all of them at once
``CannotBeSolved``       1   raise the named limit or drop one of the named causes
``OutputRefused``        1   name another output folder
``NotFit``               3   repair the vehicles named (only where an option asked)
=====================  ====  ==========================================================
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import get_close_matches


class FieldkitError(Exception):
    """Base of every error whose message is meant for the user."""

    exit_code = 1


@dataclass(frozen=True, order=True)
class Fault:
    """One mistake in one place.

    Attributes
    ----------
    place : str
        File and line or cell, such as ``trip.toml:12`` or ``findings.csv:4 date``.
    found : str
        What stands there, or what is the matter.
    expected : str
        What would be right; how to write it.
    nearest : str or None
        The nearest valid name, where a name was mistyped.

    Examples
    --------
    >>> print(Fault("trip.toml:4", "unknown key 'strat'", "one of: start, stop", "start"))
    trip.toml:4: unknown key 'strat'; expected one of: start, stop; did you mean 'start'?
    """

    place: str
    found: str
    expected: str = ""
    nearest: str | None = None

    def __str__(self) -> str:
        text = f"{self.place}: {self.found}"
        if self.expected:
            text += f"; expected {self.expected}"
        if self.nearest:
            text += f"; did you mean '{self.nearest}'?"
        return text


class InputFaults(FieldkitError):
    """The input is at fault; carries every fault found, not only the first.

    Raises nothing itself; ``faults`` is sorted by place and free of repeats.
    """

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults: tuple[Fault, ...] = tuple(dict.fromkeys(faults))
        super().__init__("\n".join(map(str, self.faults)))


class CannotBeSolved(FieldkitError):
    """No kit meets the limits. The message names the limit, by how much, and the heaviest causes."""


class OutputRefused(FieldkitError):
    """The output folder holds something this tool did not make."""


class NotFit(FieldkitError):
    """A vehicle is not fit to leave, and the caller asked for an exit code that says so."""

    exit_code = 3


def nearest_name(name: str, known: Sequence[str] | Iterable[str]) -> str | None:
    """The known name most like ``name``, or None when none is like it.

    Examples
    --------
    >>> nearest_name("archetyp", ["archetype", "axle"])
    'archetype'
    """
    found = get_close_matches(name, list(known), n=1, cutoff=0.6)
    return found[0] if found else None


def several(names: Iterable[str], limit: int = 8) -> str:
    """Names as a short sorted list for a message.

    Examples
    --------
    >>> several(["b", "a"])
    'a, b'
    """
    ordered = sorted(names)
    tail = f" and {len(ordered) - limit} more" if len(ordered) > limit else ""
    return ", ".join(ordered[:limit]) + tail
