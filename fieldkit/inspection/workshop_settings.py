"""Words and weeks of the workshop plan, and of looking at a vehicle to buy: ``settings/workshop.toml``, checked."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from fieldkit.specs.base import Distance, Id, Share, Spec, Text
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings

Weeks = Annotated[float, Field(ge=0, le=104)]


class StepRule(Spec):
    """One step: from and by how many weeks before departure; until how many days before it still serves."""

    id: Id
    title: Text
    from_weeks: Weeks
    weeks: Weeks
    latest_days: int = Field(ge=0, le=730)
    what: Text
    if_late: Text


class OrderWords(Spec):
    manual: tuple[Text, ...]
    cautions: tuple[Text, ...]


class Shakedown(Spec):
    low: Distance
    high: Distance


class HiddenPart(Spec):
    """What no look finds without taking parts off, and what to ask for instead."""

    what: Text
    ask: Text
    needs_any: tuple[Id, ...] = ()


class PurchaseRules(Spec):
    unseen_below: Share
    structure: tuple[Id, ...]
    hidden: tuple[HiddenPart, ...]


class WorkshopSettings(Spec):
    """The whole of ``settings/workshop.toml``."""

    step: tuple[StepRule, ...]
    order: OrderWords
    shakedown: Shakedown
    purchase: PurchaseRules


def workshop_settings(library: Library) -> WorkshopSettings:
    """The library's settings laid over the shipped ones.

    Raises
    ------
    InputFaults
        With every fault of the file, by its key.
    """
    return read_settings("workshop", WorkshopSettings, library)
