"""Which lines of a file the trip follows: the only one, the one named, tracks that join, or none yet."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from fieldkit.errors import Fault, InputFaults, nearest_name
from fieldkit.route.geodesic import distance_m
from fieldkit.route.result import Line
from fieldkit.route.settings import JoinFigures

ALL = "all"


def choose_lines(
    file: str, lines: Sequence[Line], wanted: str | int | None, figures: JoinFigures
) -> tuple[tuple[int, ...], list[str]]:
    """Indices of the lines to follow, in order, and what is to be said about the choice.

    Recorded lines go before routes. Several recorded lines are taken together only if each begins near the end
    of the one before (``figures.near_km``) or if "all" is asked for, and each join is named. Otherwise nothing is
    taken and the remark lists what can be named.

    Raises
    ------
    InputFaults
        If ``wanted`` is no name or number of a line here, or is the name of several.
    """
    usable = [i for i, line in enumerate(lines) if len(line.lat) >= 2 and line.length_m > 0]
    said = _left_out(lines, usable)
    if wanted not in (None, ""):
        taken = _named(file, lines, usable, wanted)
        return taken, [*said, *_joins(lines, taken)]
    tracks = [i for i in usable if lines[i].kind != "route"]
    group = tracks or usable
    if len(group) == 1 or (tracks and _follow(lines, group, figures)):
        return tuple(group), [*said, *_others(lines, usable, group), *_joins(lines, group)]
    return (), [*said, _question(lines, usable)]


def line_title(line: Line) -> str:
    """A line as messages call it.

    Examples
    --------
    >>> import numpy as np
    >>> line_title(Line("Day 1", "track", np.zeros(0), np.zeros(0), np.zeros(0), (), 0.0, 0.0))
    "track 'Day 1'"
    """
    return f"{line.kind} '{line.name}'"


def gap_between(one: Line, other: Line) -> float:
    """Distance from the end of one line to the start of another [km]."""
    return distance_m(one.lat[-1], one.lon[-1], other.lat[0], other.lon[0]) / 1000.0


def _left_out(lines: Sequence[Line], usable: list[int]) -> list[str]:
    return [
        f"{line_title(line)} has {_points(line)}: too few for a line"
        for i, line in enumerate(lines)
        if i not in usable and (len(line.lat) or line.kind != "route")
    ]


def _points(line: Line) -> str:
    count = len(line.lat)
    return {0: "no points", 1: "a single point"}.get(count, f"{count} points in one place")


def _named(file: str, lines: Sequence[Line], usable: list[int], wanted: str | int | None) -> tuple[int, ...]:
    by_name = [i for i in usable if lines[i].name == str(wanted).strip()]
    if len(by_name) == 1:
        return tuple(by_name)
    if len(by_name) > 1:
        numbers = ", ".join(str(i + 1) for i in by_name)
        raise InputFaults([Fault(file, f"{len(by_name)} lines are named '{wanted}'", f"a number instead: {numbers}")])
    if str(wanted).strip().lower() == ALL:
        return tuple([i for i in usable if lines[i].kind != "route"] or usable)
    if str(wanted).strip().isdigit() and int(wanted or 0) - 1 in usable:
        return (int(wanted or 0) - 1,)
    names = [lines[i].name for i in usable]
    known = "; ".join(f"{i + 1} '{lines[i].name}'" for i in usable)
    raise InputFaults([Fault(file, f"no line '{wanted}'", f"one of: {known}", nearest_name(str(wanted), names))])


def _follow(lines: Sequence[Line], group: list[int], figures: JoinFigures) -> bool:
    return all(gap_between(lines[a], lines[b]) <= figures.near_km for a, b in itertools.pairwise(group))


def _joins(lines: Sequence[Line], taken: Sequence[int]) -> list[str]:
    return [
        f"{line_title(lines[a])} is followed by {line_title(lines[b])}, {gap_between(lines[a], lines[b]):.2f} km on"
        for a, b in itertools.pairwise(taken)
    ]


def _others(lines: Sequence[Line], usable: list[int], group: list[int]) -> list[str]:
    others = [line_title(lines[i]) for i in usable if i not in group]
    if not others:
        return []
    taken = " and ".join(line_title(lines[i]) for i in group[:2]) + (" and more" if len(group) > 2 else "")
    return [f"taken: {taken}; also in the file, to be named if wanted: {', '.join(others)}"]


def _question(lines: Sequence[Line], usable: list[int]) -> str:
    listed = "; ".join(f"{i + 1} {line_title(lines[i])}, {lines[i].length_m / 1000:.2f} km" for i in usable)
    return (
        f"{len(usable)} lines that do not follow each other, none taken yet: name one, or its number, or '{ALL}' for "
        f"all in order ({listed})"
    )
