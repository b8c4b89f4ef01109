"""A trip's recovery as plain text for the terminal, within 80 columns: safety first, then the order, then figures."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby
from textwrap import wrap

from fieldkit.recovery.figures import recovery_figures
from fieldkit.recovery.result import Recovery, Rig, VehicleRecovery
from fieldkit.specs.trip import Trip

COLUMNS = 80


def as_text(found: Recovery, trip: Trip) -> str:
    """Everything of ``plan_recovery`` in words; masses and forces in kilograms as the trade rates gear.

    Parameters
    ----------
    found : Recovery
    trip : Trip
        For the names of vehicles, surfaces and gear.
    """
    lines = ["FIRST", *_wrapped(found.safety, "- "), "", "IN THIS ORDER"]
    lines += [f"{number}. {words}" for number, words in enumerate(found.order, 1)]
    for vehicle in found.vehicles:
        lines += ["", *_vehicle(vehicle, trip)]
    return "\n".join(lines)


def _wrapped(texts: Iterable[str], mark: str) -> list[str]:
    lines = []
    for text in texts:
        lines += wrap(text, COLUMNS, initial_indent=mark, subsequent_indent=" " * len(mark))
    return lines


def _vehicle(vehicle: VehicleRecovery, trip: Trip) -> list[str]:
    items = trip.library.items
    lines = [f"{trip.vehicle(vehicle.vehicle).name.upper()}, {vehicle.gross_kg:.0f} kg as it leaves"]
    lines += _wrapped(vehicle.cautions, "  ! ")
    refused = (f"{items[key].name}: {why}" for key, why in vehicle.refused if key in items)
    lines += _wrapped(refused, "  not to be used: ")
    lines += ["", "Pull needed to free it", *_table(vehicle, trip)]
    for rig in vehicle.rigs:
        lines += ["", *_rig(rig)]
    return lines


def _table(vehicle: VehicleRecovery, trip: Trip) -> list[str]:
    depths, surfaces = recovery_figures(trip.library).mire, trip.library.surfaces
    lines = []
    for (surface, depth), rows in groupby(vehicle.table, key=lambda r: (r[0], r[2])):
        lines.append(f"{surfaces[surface].name}, {depths[depth].words}")
        for _, slope, _, low, high, method in rows:
            first = f"  {slope:>3.0f}°  {f'{low:.0f} to {high:.0f} kg':>16}  "
            lines += wrap(method, COLUMNS, initial_indent=first, subsequent_indent=" " * len(first))
    return lines


def _rig(rig: Rig) -> list[str]:
    line = "single line" if rig.lines == 1 else f"{rig.lines}-part line"
    lines = _wrapped([f"Rig: {rig.title}"], "")
    lines.append(f"  {line}; pull {rig.pull_kgf:.0f} kg, with the sheaves {rig.total_kgf:.0f} kg")
    for part in rig.parts:
        rated = "of unknown" if part.rated_kgf is None else f"of {part.rated_kgf:.0f} kg"
        mark = " <- weakest" if part.name == rig.weakest else ""
        lines += wrap(
            f"{part.name}{mark}",
            COLUMNS,
            initial_indent=f"  {part.load_kgf:>6.0f} {rated:<11}  ",
            subsequent_indent=" " * 22,
        )
    return [*lines, *([] if rig.fits else ["  DOES NOT FIT"]), *_wrapped([rig.note], "  ")]
