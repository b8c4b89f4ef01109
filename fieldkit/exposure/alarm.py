"""How long until somebody who can act knows: by what is carried, by another vehicle, or by being overdue."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np

from fieldkit.exposure.result import Floats
from fieldkit.exposure.schedule import Schedule
from fieldkit.exposure.settings import RemotenessFigures
from fieldkit.specs.trip import Trip


def alarm_hours(
    trip: Trip,
    schedule: Schedule,
    stopped_h: Floats,
    reach_h: Floats,
    figures: RemotenessFigures,
    purpose: str,
    carried: Iterable[str] | None = None,
) -> Floats:
    """Hours from a breakdown until the alarm reaches somebody who can act.

    Parameters
    ----------
    stopped_h : array, shape (n,)
        When the vehicle stops, hours from midnight before day 1.
    reach_h : array, shape (n,)
        Hours for another vehicle to the nearest place with a telephone or people (infinite: none).
    purpose : {"people", "vehicle"}
        A distress beacon calls help for people only.
    carried : iterable of str or None
        Item ids; None: as the trip says, and then ``alarm`` of trip.toml holds if it was written there.

    Returns
    -------
    array, shape (n,)
        The least of: the quickest device carried; another vehicle driving out, where there is one; being missed,
        which is the rest of the planned trip and the hours after which the shore contact acts.
    """
    comms = trip.head.comms
    if carried is None and "alarm_h" in comms.model_fields_set:
        return np.full_like(stopped_h, comms.alarm_h)
    missed = np.maximum(schedule.end - stopped_h, 0.0) + comms.overdue_h
    device = device_hours(comms.carried if carried is None else carried, figures, purpose)
    other = reach_h if len(trip.vehicles) > 1 else np.full_like(stopped_h, np.inf)
    return np.minimum(np.minimum(missed, other), device)


def device_hours(carried: Iterable[str], figures: RemotenessFigures, purpose: str) -> float:
    """The quickest alarm by a device carried [h]; infinite where none serves.

    Examples
    --------
    >>> from fieldkit.exposure.settings import remoteness_figures
    >>> device_hours(["distress-beacon"], remoteness_figures(), "people")
    1.0
    >>> device_hours(["distress-beacon"], remoteness_figures(), "vehicle")
    inf
    """
    rows = [figures.alarm[item] for item in carried if item in figures.alarm]
    hours = [row.people_h if purpose == "people" else row.vehicle_h for row in rows]
    return min((value for value in hours if value is not None), default=float("inf"))


def mobilise_hours(trip: Trip, figures: RemotenessFigures) -> float:
    """Hours from the alarm to wheels turning: as trip.toml says, else the settings'."""
    written = "mobilise_h" in trip.head.comms.model_fields_set
    return trip.head.comms.mobilise_h if written else figures.help.mobilise_h
