"""The rules of fitness and of forms: ``settings/readiness.toml``, checked."""

from __future__ import annotations

from collections.abc import Collection
from typing import Annotated

from pydantic import Field

from fieldkit.inspection.result import State
from fieldkit.specs.base import Severity, Share, Spec, Text
from fieldkit.specs.library import Library
from fieldkit.specs.settings import read_settings

Positive = Annotated[float, Field(gt=0)]


class FindingRules(Spec):
    prior_floor: Share
    defective_false_alarm: Share
    stale_days: int


class States(Spec):
    """The state that each kind of reason gives."""

    unsafe_worn: State
    limits_defective: State
    advice_defective: State
    other_worn: State
    nearly_certain: State
    unseen: State
    stale: State
    conflict: State
    unmatched: State
    not_weighed: State
    no_inspector: State
    no_shakedown: State
    overloaded: State
    expired_must_carry: State
    expired: State
    no_date: State
    odd_spare: State
    figures_blank: State
    water_short: State
    water_thin: State
    fuel_short: State
    supplies: State


class MajorWork(Spec):
    hours: Positive
    shakedown_km: Positive
    recent_days: int


class LookSettings(Spec):
    workshop_hour_worth: Annotated[float, Field(ge=0)]


class LimitWords(Spec):
    speed: Text
    watch: Text
    load: Text


class FormKind(Spec):
    title: Text
    use: Text
    stations: tuple[str, ...]


class FormSettings(Spec):
    short_minutes: Positive
    stations: dict[str, str]
    kind: dict[str, FormKind]


class Rules(Spec):
    """The whole of ``settings/readiness.toml``."""

    findings: FindingRules
    states: States
    major_work: MajorWork
    figures: dict[str, str]
    figures_need: dict[str, tuple[str, ...]] = Field(default_factory=dict)
    look: LookSettings
    reference_hours: dict[Severity, float]
    limit_words: LimitWords
    form: FormSettings
    dry_runs: dict[str, str]
    dry_run_needs: dict[str, tuple[str, ...]] = Field(default_factory=dict)


def figures_asked(rules: Rules, features: Collection[str]) -> dict[str, str]:
    """Lines of the figures sheet that a vehicle with these features has: key -> words, in the rules' order.

    Examples
    --------
    >>> from fieldkit.specs.read_library import shipped_folder
    >>> rules = rules_of(Library(shipped_folder("vehicle_specs")))
    >>> list(figures_asked(rules, {"trailer"}))
    ['wheel_nuts', 'jacking_points']
    """
    have = set(features)
    return {
        key: words
        for key, words in rules.figures.items()
        if key not in rules.figures_need or have & set(rules.figures_need[key])
    }


def rules_of(library: Library) -> Rules:
    """The library's rules; tables it does not give come from the shipped file.

    Raises
    ------
    InputFaults
        If a key is unknown or a value is not a possible one.
    """
    return read_settings("readiness", Rules, library, whole_tables=True)
