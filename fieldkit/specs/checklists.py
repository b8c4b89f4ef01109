"""The shape of checklists: pause points of few lines, in the order of one walk."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil
from typing import Any

from fieldkit.errors import Fault, nearest_name

#: Places in their order: what is most critical, what lies off the vehicle from here to the far end, then the vehicle
#: from front to rear, below and inside, and people and papers last.
WALK = ("first", "near", "along", "far", "front", "round", "rear", "below", "inside", "people")

#: Time to answer and tick a line [s], and words read aloud in a second: judgement.
LINE_S = 7.0
WORDS_PER_S = 2.5


def pauses(listed: dict[str, Any]) -> list[dict[str, Any]]:
    """Pause points of a checklist; a list that is not split is one, without a title."""
    return list(listed["part"]) if "part" in listed else [{"title": "", "item": listed.get("item", [])}]


def checklist_faults(listed: dict[str, Any], place: str) -> Iterator[Fault]:
    """Lines without an object, a state or a known place."""
    for pause in pauses(listed):
        for line in pause.get("item", ()):
            name = f"{place}: {line.get('object', 'a line')}"
            for key in ("object", "state"):
                if not line.get(key):
                    yield Fault(name, f"no {key}", "an object and the state it must be in")
            station = str(line.get("station", WALK[0]))
            if station not in WALK:
                yield Fault(name, f"station '{station}'", f"one of: {', '.join(WALK)}", nearest_name(station, WALK))


def along_the_walk(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Lines by their place; those of one place as they were written.

    Examples
    --------
    >>> [line["object"] for line in along_the_walk([{"object": "Plate", "station": "rear"}, {"object": "Nuts"}])]
    ['Nuts', 'Plate']
    """
    return sorted(lines, key=lambda line: WALK.index(line.get("station", WALK[0])))


def fits(line: dict[str, Any], features: frozenset[str]) -> bool:
    """Whether a vehicle has all that a line ``needs``, and one of ``needs_one`` where that is named."""
    one = set(line.get("needs_one", ()))
    return features.issuperset(line.get("needs", ())) and (not one or not one.isdisjoint(features))


def seconds(lines: list[dict[str, Any]]) -> int:
    """Time to read lines out and answer them, what has to be done apart, to the next ten [s].

    Examples
    --------
    >>> seconds([{"object": "Wheel nuts", "state": "marks in line"}] * 7)
    70
    """
    words = sum(len(f"{line['object']} {line['state']}".split()) for line in lines)
    return ceil((len(lines) * LINE_S + words / WORDS_PER_S) / 10) * 10
