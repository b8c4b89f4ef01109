"""What many pages share: page keys, repair numbers, where things are packed, what is covered."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

from markupsafe import escape

from fieldkit.handbook.coverage import Gear, Line, lacking, stock_for, stock_left
from fieldkit.handbook.words import Words, day_text
from fieldkit.likelihood.hazard import has_part
from fieldkit.likelihood.result import Risk
from fieldkit.loads.fitted_tyres import features_of
from fieldkit.specs.library import FailureMode, Library, Procedure
from fieldkit.specs.trip import Trip, Vehicle

_KIND_ORDER = {"proper": 0, "get-out": 1, "way-out": 2}


@dataclass(frozen=True)
class Page:
    """One page before it is rendered.

    Attributes
    ----------
    key : str
        Path without its ending, such as ``repairs/plug-a-tread-puncture``; also what links name.
    chapter : str
        Key of the chapter in the settings' ``titles``; says where the page belongs.
    context : dict
        Plain data for the template.
    also : tuple of str
        Words that find this page in a search and stand nowhere on it.
    about : tuple of str
        Vehicle ids the page is about; empty for all.
    """

    key: str
    title: str
    template: str
    chapter: str
    context: dict[str, Any] = field(repr=False)
    also: tuple[str, ...] = ()
    about: tuple[str, ...] = ()
    in_book: bool = True

    @property
    def slug(self) -> str:
        """Prefix of every id on the page, so that pages can be joined into one file."""
        return slug_of(self.key)


def slug_of(key: str) -> str:
    """A page key as an id that no other page shares.

    >>> slug_of("repairs/plug-a-tread-puncture")
    'repairs--plug-a-tread-puncture'
    """
    return key.replace("/", "--")


@dataclass(frozen=True)
class Spot:
    """Packs of an item in a place of a vehicle. ``suits``: ids of the vehicles they are for; empty: all."""

    item: str
    vehicle: str
    vehicle_name: str
    place: str
    place_name: str
    quantity: int
    suits: tuple[str, ...] = ()


@dataclass(frozen=True)
class RepairTitles:
    """Titles of the field repairs: lower-case title to id and number, and the pattern that finds any of them.

    Equal when ids, titles and numbers are; the hash is worked out once, since texts are linked by the hundred.
    """

    named: tuple[tuple[str, str, int], ...]

    @cached_property
    def targets(self) -> dict[str, tuple[str, int]]:
        return {str(escape(title)).lower(): (key, number) for key, title, number in self.named}

    @cached_property
    def pattern(self) -> re.Pattern[str]:
        ordered = sorted(self.targets, key=len, reverse=True)
        return re.compile(r"(?<!\w)(?:" + "|".join(map(re.escape, ordered)) + r")(?!\w)", re.I)

    @cached_property
    def _hash(self) -> int:
        return hash(self.named)

    def __hash__(self) -> int:
        return self._hash


@dataclass(frozen=True)
class Facts:
    """The plan with what the pages look up in it again and again. Computes no likelihood."""

    plan: Any
    words: Words

    @property
    def trip(self) -> Trip:
        return self.plan.trip

    @property
    def library(self) -> Library:
        return self.plan.trip.library

    @property
    def vehicles(self) -> tuple[Vehicle, ...]:
        return self.plan.trip.vehicles

    @property
    def revision(self) -> str:
        return self.plan.trip.digest

    @cached_property
    def stamp(self) -> dict[str, str]:
        """What every page carries: trip, revision, date, vehicles."""
        head = self.trip.head
        return {
            "trip": self.trip.id,
            "trip_title": head.title,
            "revision": self.revision,
            "date": day_text(head.prepared),
            "vehicles": ", ".join(v.id for v in self.vehicles),
        }

    @cached_property
    def numbered(self) -> tuple[Procedure, ...]:
        """Field repairs in the order of the chapters; a repair's number is its place here, from 1."""
        chapters = {c: n for n, c in enumerate(self.library.subsystems)}
        return tuple(
            sorted(
                self.library.procedures.values(),
                key=lambda p: (chapters.get(p.subsystem, 99), _KIND_ORDER[p.head.kind], p.head.title, p.id),
            )
        )

    @cached_property
    def numbers(self) -> dict[str, int]:
        return {p.id: n for n, p in enumerate(self.numbered, 1)}

    @cached_property
    def features(self) -> dict[str, frozenset[str]]:
        return {v.id: features_of(v) for v in self.vehicles}

    @cached_property
    def gear(self) -> dict[str, Gear]:
        return {i: Gear(item.substitutes, frozenset(item.fits)) for i, item in self.library.items.items()}

    @cached_property
    def spots(self) -> dict[str, tuple[Spot, ...]]:
        """Where each item is packed, in vehicle order."""
        order = {v.id: n for n, v in enumerate(self.vehicles)}
        found: dict[str, list[Spot]] = {}
        for e in sorted(self.plan.kit.items, key=lambda e: (order.get(e.vehicle, 99), e.place, e.item)):
            if e.quantity:
                found.setdefault(e.item, []).append(
                    Spot(
                        e.item,
                        e.vehicle,
                        self.name(e.vehicle),
                        e.place,
                        self.place(e.vehicle, e.place),
                        e.quantity,
                        e.suits,
                    )
                )
        return {item: tuple(spots) for item, spots in found.items()}

    def meant_for(self, suits: Sequence[str]) -> str:
        """Names of the vehicles that packs are for; empty where they suit all."""
        return ", ".join(self.name(v) for v in suits)

    @cached_property
    def lines(self) -> tuple[Line, ...]:
        """The stock as packed."""
        return tuple(
            Line(s.item, s.vehicle, s.place, s.quantity, s.suits) for spots in self.spots.values() for s in spots
        )

    @cached_property
    def stock_for(self) -> dict[str, dict[str, float]]:
        """Vehicle id to packs by item that suit it, as packed."""
        left = stock_left(self.lines, (), {}, self.features)
        return {v.id: stock_for(self.lines, left, v.id) for v in self.vehicles}

    def name(self, vehicle: str) -> str:
        return next((v.name for v in self.vehicles if v.id == vehicle), vehicle)

    def place(self, vehicle: str, place: str) -> str:
        places = next((v.places for v in self.vehicles if v.id == vehicle), {})
        return places[place].name if place in places else place

    def names_together(self, names: Sequence[str]) -> str:
        """Vehicles' names as one text: all of several vehicles are "every vehicle"."""
        return self.words["words"]["every_vehicle"] if 1 < len(names) == len(self.vehicles) else ", ".join(names)

    def has(self, vehicle: Vehicle, mode: str) -> bool:
        return mode in self._modes_of[vehicle.id]

    @cached_property
    def _modes_of(self) -> dict[str, frozenset[str]]:
        return {
            v.id: frozenset(m for m, mode in self.library.failure_modes.items() if has_part(mode, self.features[v.id]))
            for v in self.vehicles
        }

    @cached_property
    def _suits(self) -> dict[str, tuple[Vehicle, ...]]:
        return {p.id: tuple(v for v in self.vehicles if self._fits(p, v)) for p in self.numbered}

    def _fits(self, procedure: Procedure, vehicle: Vehicle) -> bool:
        have, head = self.features[vehicle.id], procedure.head
        if not set(head.needs) <= have or set(head.without) & have:
            return False
        return any(self.has(vehicle, m) for m in head.repairs)

    def suits(self, procedure: str) -> tuple[Vehicle, ...]:
        """Vehicles of the trip that this repair can be done on."""
        return self._suits[procedure]

    @cached_property
    def _lacking(self) -> dict[tuple[str, str], tuple[str, ...]]:
        return {
            (p.id, v.id): tuple(lacking(p.items(), self.stock_for[v.id], self.gear, self.features[v.id]))
            for p in self.numbered
            for v in self.suits(p.id)
        }

    def lacks(self, procedure: str, vehicle: str) -> tuple[str, ...]:
        """Items that the kit lacks for a repair on a vehicle; empty when it is covered."""
        return self._lacking[(procedure, vehicle)]

    @cached_property
    def repairs_of(self) -> dict[str, tuple[Procedure, ...]]:
        """Weak point to its field repairs, in number order."""
        found: dict[str, list[Procedure]] = {}
        for p in self.numbered:
            for mode in p.head.repairs:
                found.setdefault(mode, []).append(p)
        return {mode: tuple(ps) for mode, ps in found.items()}

    @cached_property
    def repair_titles(self) -> RepairTitles:
        return RepairTitles(tuple((p.id, p.head.title, self.numbers[p.id]) for p in self.numbered))

    def risk(self, vehicle: str, mode: str) -> Risk | None:
        """A weak point's risk on this trip after the chosen work; None where the vehicle has no such part, or no longer."""
        if (vehicle, mode) in self.plan.kit.gone:
            return None
        found: Risk | None = self.plan.kit.after.get((vehicle, mode)) or self.plan.risks.by_key.get((vehicle, mode))
        return found

    def risks_of(self, vehicle: str) -> list[Risk]:
        """A vehicle's weak points after the chosen work, likeliest to fail at least once first."""
        found = [self.risk(vehicle, r.mode) for r in self.plan.risks.of(vehicle)]
        return sorted((r for r in found if r is not None), key=lambda r: (-r.chance.value, r.mode))

    def before_work(self, vehicle: str, mode: str) -> Risk | None:
        """The risk as found, where the chosen work changes it; None elsewhere."""
        found: Risk | None = self.plan.risks.by_key.get((vehicle, mode))
        return found if found is not None and (vehicle, mode) in self.plan.kit.after else None

    def mode(self, mode: str) -> FailureMode:
        return self.library.failure_modes[mode]

    @cached_property
    def modes_in_order(self) -> tuple[str, ...]:
        chapters = {c: n for n, c in enumerate(self.library.subsystems)}
        of = self.library.subsystem_of
        return tuple(sorted(self.library.failure_modes, key=lambda m: (chapters.get(of.get(m, ""), 99), m)))

    def chapter_name(self, subsystem: str) -> str:
        return self.library.subsystems.get(subsystem, subsystem)

    def repair_ref(self, procedure: Procedure, only: str | None = None) -> dict[str, Any]:
        """How other pages name a repair: number, title, kind, and for each vehicle whether the kit covers it."""
        head = procedure.head
        vehicles = [v for v in self.suits(procedure.id) if only in (None, v.id)]
        return {
            "key": f"repairs/{procedure.id}",
            "id": procedure.id,
            "number": self.numbers[procedure.id],
            "title": head.title,
            "kind": self.words.label("kinds", head.kind),
            "kind_id": head.kind,
            "minutes": head.minutes,
            "cover": [
                {"id": v.id, "vehicle": v.name, "lacks": [self.item_name(i) for i in self.lacks(procedure.id, v.id)]}
                for v in vehicles
            ],
        }

    def item_name(self, item: str) -> str:
        return self.library.items[item].name if item in self.library.items else item

    def mode_ref(self, mode: str) -> dict[str, Any]:
        return {"key": f"weak-points/{mode}", "id": mode, "title": self.mode(mode).title}


def text_title(facts: Facts, key: str) -> str:
    """A text's own first heading, or its id as words."""
    first = facts.library.texts.get(key, "").lstrip().splitlines()[:1]
    return first[0].lstrip("# ").strip() if first and first[0].startswith("#") else key.replace("-", " ").capitalize()
