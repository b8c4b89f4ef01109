"""What an inspection form says: the points of a walk round one vehicle, in order, for paper or phone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fieldkit.inspection.defects import unsafe_defect
from fieldkit.inspection.dry_runs import asked
from fieldkit.inspection.result import Belief
from fieldkit.inspection.settings import FormKind, Rules, figures_asked, rules_of
from fieldkit.likelihood.hazard import has_part, life_of, position_names
from fieldkit.likelihood.weibull import hazard_rate, mean_life
from fieldkit.specs.library import FailureMode, Inspection, Library


@dataclass(frozen=True)
class FormLine:
    """One point of the walk. ``sure``: how sure this look is, in words; ``found``: finding per position, blank where not filled.

    ``minutes`` [min]; ``worth`` [h saved per minute of looking].
    """

    number: int
    mode: str
    title: str
    how: str
    accept: str
    minutes: float
    tools: tuple[str, ...]
    measured: str
    positions: tuple[str, ...]
    unsafe: bool
    sure: str
    worth: float
    found: tuple[str, ...] = ()


@dataclass(frozen=True)
class FormStation:
    station: str
    title: str
    lines: tuple[FormLine, ...]


@dataclass(frozen=True)
class Form:
    """A form's content. ``left_out``: points of the full form that a short one leaves out; ``figures`` the owner must fill in."""

    kind: str
    title: str
    use: str
    short: bool
    stations: tuple[FormStation, ...]
    minutes: float
    left_out: tuple[str, ...]
    dry_runs: tuple[tuple[str, str], ...]
    figures: tuple[tuple[str, str], ...]


def inspection_form(
    library: Library,
    features: frozenset[str],
    kind: str = "departure",
    short: bool = False,
    worth: Mapping[str, float] | None = None,
    found: Mapping[str, Sequence[Belief]] | None = None,
) -> Form:
    """The points of one kind of form for a vehicle with these features.

    Parameters
    ----------
    library : Library
    features : frozenset of str
        What the vehicle, or the build, has.
    kind : str
        ``departure``, ``shakedown``, ``after-trip`` or ``purchase``: the kinds of ``settings/readiness.toml``.
    short : bool
        Only what is worth most per minute, until the minutes of a short form are used; points whose defect is unsafe first.
    worth : mapping or None
        Weak point -> hours saved per minute on a trip; a reference trip's where None.
    found : mapping or None
        Weak point -> beliefs to print into the form; blank where None.

    Raises
    ------
    KeyError
        If there is no such kind.
    """
    rules = rules_of(library)
    form = rules.form.kind[kind]
    points = {
        key: mode
        for key, mode in library.failure_modes.items()
        if mode.inspection and mode.inspection.station in form.stations and has_part(mode, features)
    }
    value = {k: reference_worth(m, rules) if worth is None else worth.get(k, 0.0) for k, m in points.items()}
    kept = _short(points, value, rules) if short else list(points)
    stations = _stations(library, rules, form, {k: points[k] for k in points if k in set(kept)}, value, found or {})
    return Form(
        kind,
        form.title,
        form.use,
        short,
        stations,
        sum(line.minutes for s in stations for line in s.lines),
        tuple(points[k].title for k in points if k not in set(kept)),
        tuple(asked(rules, features).items()) if kind == "departure" else (),
        tuple(figures_asked(rules, features).items()),
    )


def reference_worth(mode: FailureMode, rules: Rules) -> float:
    """Hours that a minute of looking may save on a reference trip: chance of wear at mean life, found, times hours per failure.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> look = N(detects=0.8, minutes=10.0)
    >>> mode = N(inspection=look, sudden=1.0, clock="km", warning_km=None, warning_days=None, severity="limp")
    >>> reference_worth(mode, N(reference_hours={"limp": 8.0}))
    0.0
    """
    look = mode.inspection
    if look is None:
        return 0.0
    return _worn_at_mean_life(mode) * look.detects * rules.reference_hours[mode.severity] / look.minutes


def _worn_at_mean_life(mode: FailureMode) -> float:
    warning = {"km": mode.warning_km, "days": mode.warning_days}.get(mode.clock, mode.warning_km)
    if mode.sudden >= 1.0 or not warning:
        return 0.0
    life = life_of(mode)
    slope = hazard_rate(mean_life(life, mode.shape), life, mode.shape)
    return min(0.9, (1.0 - mode.sudden) * warning * float(slope))


def _short(points: Mapping[str, FailureMode], value: Mapping[str, float], rules: Rules) -> list[str]:
    """Points by what they are worth per minute until the time is used up; unsafe ones go first."""
    order = sorted(points, key=lambda k: (not unsafe_defect(points[k]), -value[k], k))
    kept, used = [], 0.0
    for key in order:
        look = points[key].inspection
        if look and used + look.minutes <= rules.form.short_minutes:
            kept.append(key)
            used += look.minutes
    return kept


def _stations(
    library: Library,
    rules: Rules,
    form: FormKind,
    points: Mapping[str, FailureMode],
    value: Mapping[str, float],
    found: Mapping[str, Sequence[Belief]],
) -> tuple[FormStation, ...]:
    stations, number = [], 0
    for station in form.stations:
        here = [(k, m) for k, m in points.items() if m.inspection and m.inspection.station == station]
        here.sort(key=lambda p: (list(library.subsystems).index(library.subsystem_of[p[0]]), p[0]))
        lines = []
        for key, mode in here:
            number += 1
            lines.append(_line(library, number, key, mode, value[key], found.get(key, ())))
        if lines:
            stations.append(FormStation(station, rules.form.stations[station], tuple(lines)))
    return tuple(stations)


def _line(
    library: Library, number: int, key: str, mode: FailureMode, worth: float, found: Sequence[Belief]
) -> FormLine:
    look = mode.inspection
    if look is None:  # points without one are not on forms
        raise ValueError(f"{key} has no inspection")
    return FormLine(
        number,
        key,
        mode.title,
        look.how,
        look.accept,
        look.minutes,
        tuple(library.items[t].name for t in look.tools if t in library.items),
        look.measured or "",
        position_names(mode),
        unsafe_defect(mode),
        sure_words(look),
        worth,
        tuple(b.finding for b in found),
    )


def sure_words(look: Inspection) -> str:
    """How sure a look is, as people say it.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> sure_words(N(detects=0.7, false_alarm=0.05))
    'finds 7 in 10; 1 false alarm in 20'
    """
    alarms = f"1 false alarm in {round(1 / look.false_alarm)}" if look.false_alarm > 0 else "no false alarms"
    return f"finds {round(10 * look.detects)} in 10; {alarms}"
