"""A trip's recovery: pulls of each vehicle, rigs for typical ones, gear that may not serve it, the order and the safety rules."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from fieldkit.loads.result import Loads
from fieldkit.recovery.figures import RecoveryFigures, recovery_figures
from fieldkit.recovery.gear import (
    Winch,
    gear_refused,
    refused_for,
    strap_partners,
    winches,
    working_kgf,
)
from fieldkit.recovery.pull import recovery_pull
from fieldkit.recovery.result import Recovery, Rig, VehicleRecovery
from fieldkit.recovery.rig import Block, Gear, rig
from fieldkit.specs.trip import Trip, Vehicle

Carried = Mapping[str, float] | Iterable[str] | None


def plan_recovery(trip: Trip, loads: Loads, items: Carried = None) -> Recovery:
    """Pull tables and rig sheets of a trip's vehicles, safety first.

    Parameters
    ----------
    trip : Trip
    loads : Loads
        As weighed; the laden mass with the kit where there is one.
    items : mapping of str to number, iterable of str, or None
        Item ids carried (with quantities). None: one of each piece of recovery gear that may be carried, and two blocks.

    Returns
    -------
    Recovery
        Vehicles in the order of the trip, without trailers.
    """
    figures = recovery_figures(trip.library)
    case = _Case(trip, loads, _stock(trip, loads, items, figures), figures, items is None)
    text = figures.text
    safety = ("zone", "caller", "points", "damper", "ratings", "maker", "disagree", "start_gently")
    return Recovery(
        vehicles=tuple(case.vehicle(v) for v in trip.vehicles if "trailer" not in v.archetype.features),
        order=figures.order.steps,
        safety=tuple(text[key] for key in safety),
    )


def _stock(trip: Trip, loads: Loads, items: Carried, figures: RecoveryFigures) -> dict[str, int]:
    if items is None:
        refused = gear_refused(trip, loads)
        known = [k for k in sorted(figures.gear) if k in trip.library.items and k not in refused]
        return {k: 2 if figures.gear[k].role == "block" else 1 for k in known}
    if isinstance(items, Mapping):
        return {k: int(n) for k, n in items.items() if n >= 1}
    return dict.fromkeys(items, 1)


@dataclass(frozen=True)
class _Pulling:
    """What winches a vehicle: words, rated pull [kgf], layer planned on, and the vehicle it is on when that is another."""

    words: str
    rated_kgf: float
    layer: int
    partner: Vehicle | None = None


@dataclass(frozen=True)
class _Case:
    trip: Trip
    loads: Loads
    stock: Mapping[str, int]
    figures: RecoveryFigures
    assumed: bool

    @cached_property
    def surfaces(self) -> list[str]:
        """Surfaces of the trip where one gets stuck, those of the library where it names none."""
        named = {leg.surface for leg in self.trip.legs} | {stretch.surface for stretch in self.trip.surfaces}
        known = self.trip.library.surfaces
        stuck = [s for s in known if s in self.figures.can_bog or known[s].need != "highway"]
        return [s for s in stuck if s in named] or stuck

    @cached_property
    def winches(self) -> list[Winch]:
        return winches(self.trip)

    def gross_kg(self, vehicle: Vehicle) -> float:
        """Laden mass on its own wheels: a trailer is unhitched first, so its ball load is gone too."""
        states = self.loads[vehicle.id].states
        state = states.get("with-kit") or states["departure"]
        return state.gross_kg - state.ball_kg

    def vehicle(self, vehicle: Vehicle) -> VehicleRecovery:
        pulling = self.pulling(vehicle)
        return VehicleRecovery(
            vehicle=vehicle.id,
            gross_kg=self.gross_kg(vehicle),
            table=tuple(self._rows(vehicle, pulling)),
            rigs=tuple(self._rigs(vehicle, pulling)) if pulling else (),
            refused=self.refused(vehicle),
            cautions=tuple(self._cautions(vehicle, pulling)),
        )

    # ----------------------------------------------------------------------------------- winches
    def pulling(self, vehicle: Vehicle) -> _Pulling | None:
        """What winches a vehicle: its own winch, else the strongest of another, else a hand winch carried."""
        own = next((w for w in self.winches if w.vehicle.id == vehicle.id), None)
        layer = self.figures.winch.plan_layer
        if own:
            return _Pulling(f"{vehicle.name}'s own winch", own.rated_kgf, layer)
        other = next(iter(self.winches), None)
        if other:
            return _Pulling(f"the winch of {other.vehicle.name}", other.rated_kgf, layer, other.vehicle)
        return self._hand_winch(vehicle)

    def _hand_winch(self, vehicle: Vehicle) -> _Pulling | None:
        refused = dict(refused_for(vehicle, self.trip, self.loads))
        for key, item in self._carried("hand-winch"):
            if item.rating_kg and key not in refused:
                return _Pulling(item.name, item.rating_kg, 1)
        return None

    def _carried(self, role: str) -> list[tuple[str, Any]]:
        """Items at hand of one role, in id order."""
        items, rules = self.trip.library.items, self.figures.gear
        return [(k, items[k]) for k in sorted(self.stock) if k in rules and k in items and rules[k].role == role]

    # ------------------------------------------------------------------------------------- table
    def _rows(self, vehicle: Vehicle, pulling: _Pulling | None) -> Iterable[tuple[str, float, str, float, float, str]]:
        for surface in self.surfaces:
            for depth in ("none", *self.figures.can_bog.get(surface, ())):
                for slope in self.figures.pull.slopes_deg:
                    pull = recovery_pull(
                        self.gross_kg(vehicle),
                        self.trip.library.surfaces[surface],
                        slope,
                        depth,
                        figures=self.figures,
                    )
                    method = self.method(vehicle, depth, slope, pull.high_kgf, pulling)
                    yield surface, float(slope), depth, pull.low_kgf, pull.high_kgf, method

    def method(self, vehicle: Vehicle, depth: str, slope_deg: float, pull_kgf: float, pulling: _Pulling | None) -> str:
        """What to do for one row: the gentle ways first, a line where they are not enough."""
        words = self.figures.method
        first = str(getattr(words, depth))
        if depth in ("none", "rim") and slope_deg < words.steep_deg:
            return first
        if pulling is None:
            return f"{first}, {words.no_winch}"
        found = self.rig(vehicle, pull_kgf, pulling, "")
        if not found.fits:
            return f"{first}, {words.too_much}"
        return f"{first}, {words.one_line if found.lines == 1 else words.more_lines.format(lines=found.lines)}"

    def rig(self, vehicle: Vehicle, pull_kgf: float, pulling: _Pulling, title: str) -> Rig:
        gear, layer = self.gear(vehicle, pulling), pulling.layer
        return rig(pull_kgf, pulling.rated_kgf, gear, layer=layer, title=title, figures=self.figures)

    # -------------------------------------------------------------------------------------- rigs
    def _rigs(self, vehicle: Vehicle, pulling: _Pulling) -> Iterable[Rig]:
        typical = [t for t in self.figures.typical if t.surface in self.surfaces]
        for case in typical[: self.figures.pull.rig_sheets]:
            surface = self.trip.library.surfaces[case.surface]
            pull = recovery_pull(self.gross_kg(vehicle), surface, case.slope_deg, case.depth, figures=self.figures)
            where = self.figures.mire[case.depth].words
            title = f"{surface.name}, {where}, {case.slope_deg:.0f}° uphill, by {pulling.words}"
            yield self.rig(vehicle, pull.high_kgf, pulling, title)

    def gear(self, vehicle: Vehicle, pulling: _Pulling) -> Gear:
        """What a rig for this vehicle is made of, from what is at hand."""
        holder = None
        if pulling.partner:
            holds = self.figures.rigging.vehicle_anchor_share * self.gross_kg(pulling.partner)
            holder = (pulling.partner.name, holds)
        strap, anchor = self._first("anchor-strap"), self._first("anchor")
        return Gear(
            blocks=tuple(self._blocks()),
            strap=strap,
            shackle=self._first("shackle"),
            points=self.has_points(vehicle),
            point_kgf=self.point_kgf(vehicle),
            anchor=("tree, rock or buried wheel", None) if strap else anchor or ("anchor", None),
            holder=holder,
        )

    def _blocks(self) -> list[Block]:
        """Blocks at hand, those that lose least first."""
        found = []
        for key, item in self._carried("block"):
            rule = self.figures.gear[key]
            block = Block(item.name, working_kgf(rule, item, self.figures), rule.loss)
            found += [block] * self.stock[key]
        return sorted(found, key=lambda b: (b.loss, b.name))

    def _first(self, role: str) -> tuple[str, float | None] | None:
        """The strongest piece at hand of a role: its name and working load."""
        found = [
            (item.name, working_kgf(self.figures.gear[key], item, self.figures)) for key, item in self._carried(role)
        ]
        return max(found, key=lambda f: (f[1] or 0.0, f[0]), default=None)

    def has_points(self, vehicle: Vehicle) -> bool:
        """Whether rated points are fitted, or written down as the maker's."""
        return self.point_kgf(vehicle) is not None or bool(vehicle.spec.figures.get(self.figures.point_figure))

    def point_kgf(self, vehicle: Vehicle) -> float | None:
        """Rating of the recovery points fitted; None when none is fitted, or the maker's rating is not known."""
        rated = [
            part.rated_kg
            for fitted, part in vehicle.modifications
            if part.rated_kg and fitted.id in self.figures.point_parts
        ]
        return min(rated, default=None)

    # ---------------------------------------------------------------------------------- cautions
    def _cautions(self, vehicle: Vehicle, pulling: _Pulling | None) -> Iterable[str]:
        text = self.figures.text
        if not self.has_points(vehicle):
            yield text["no_points"]
            yield text["own_points"].format(key=self.figures.point_figure)
        if pulling is None:
            yield text["no_winch"]
        if vehicle.spec.trailer:
            yield text["trailer"]
        if "winch" in vehicle.features and not any(w.vehicle.id == vehicle.id for w in self.winches):
            yield text["winch_unknown"]
        for winch in self.winches:
            if winch.vehicle.id == vehicle.id:
                yield text["own_winch"]
                wanted = self.figures.winch.share_of_gross * self.gross_kg(vehicle)
                if winch.rated_kgf < wanted:
                    yield text["winch_small"].format(name=vehicle.name, rated=winch.rated_kgf, wanted=wanted)
        yield from self._strap_cautions(vehicle)
        if self.assumed:
            yield text["assumed"]

    def _strap_cautions(self, vehicle: Vehicle) -> Iterable[str]:
        """Straps at hand that suit this vehicle with some of the others only."""
        for _, item in self._carried("strap"):
            good, bad = strap_partners(item, vehicle, self.trip, self.figures)
            if good and bad:
                words = {"item": item.name, "good": " or ".join(good), "bad": " or ".join(bad)}
                yield self.figures.text["strap_pairs"].format(**words)

    def refused(self, vehicle: Vehicle) -> tuple[tuple[str, str], ...]:
        """Gear that may not serve the vehicle: of what is carried or owned, and of what repairs ask for."""
        asked = {i for p in self.trip.library.procedures.values() for i in p.items()}
        shown = {*self.stock, *(s.item for s in self.trip.inventory), *asked}
        return tuple(r for r in refused_for(vehicle, self.trip, self.loads) if r[0] in shown)
