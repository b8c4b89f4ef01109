"""Looking at a vehicle to buy: what a fault costs to put right, what stays unseen, what to walk away from."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.inspection.form import Form
from fieldkit.inspection.work import renewed_by
from fieldkit.inspection.workshop_settings import workshop_settings
from fieldkit.specs.library import FailureMode, Library, WorkshopOption


@dataclass(frozen=True)
class Cost:
    """Cost of putting one weak point right: from the least of its works to the most costly plain one.

    ``low``, ``high``: parts, in the library's currency; ``hours_low``, ``hours_high`` [h] of the same works.
    """

    low: float
    high: float
    hours_low: float
    hours_high: float

    def with_work(self, rate: float) -> tuple[float, float]:
        """Parts and hours at a rate, low and high.

        Examples
        --------
        >>> Cost(80, 160, 1.0, 2.0).with_work(50)
        (130.0, 260.0)
        """
        return self.low + self.hours_low * rate, self.high + self.hours_high * rate


@dataclass(frozen=True)
class Buying:
    """What a purchase form says beside its points.

    ``walk_away``: (weak point, title) whose defect stops the vehicle, what carries it (``structure``) first, then in the order of
    the form; ``poorly_seen``: (title, how sure the look is) of points that a look often misses; ``hidden``: (what, what to ask for)
    of what no look finds without taking parts off.
    """

    walk_away: tuple[tuple[str, str], ...]
    structure: frozenset[str]
    poorly_seen: tuple[tuple[str, str], ...]
    hidden: tuple[tuple[str, str], ...]


def buying(library: Library, features: frozenset[str], form: Form) -> Buying:
    """What a purchase form adds for a vehicle with these features.

    Parameters
    ----------
    library : Library
    features : frozenset of str
        What the vehicle, or the build, has.
    form : Form
        The form's points (``inspection_form`` with the kind ``purchase``).
    """
    rules = workshop_settings(library).purchase
    lines = [line for station in form.stations for line in station.lines]
    structure = frozenset(rules.structure)
    stops = [line for line in lines if line.unsafe]
    stops.sort(key=lambda line: (line.mode not in structure, line.number))
    return Buying(
        tuple((line.mode, line.title) for line in stops),
        structure,
        tuple((line.title, line.sure) for line in lines if _detects(library, line.mode) <= rules.unseen_below),
        tuple((h.what, h.ask) for h in rules.hidden if not h.needs_any or set(h.needs_any) & features),
    )


def _detects(library: Library, mode: str) -> float:
    look = library.failure_modes[mode].inspection
    return look.detects if look else 0.0


def cost_to_put_right(key: str, mode: FailureMode) -> Cost | None:
    """The range of works that make a weak point good; None where the library has none.

    Works that also change the vehicle (they fit a part it need not have) count only where there is no plain one.

    Examples
    --------
    >>> from types import SimpleNamespace as N
    >>> plain = WorkshopOption(id="a", title="A", hours="1 h", cost_low=80, cost_high=160)
    >>> slow = WorkshopOption(id="b", title="B", hours="3 h", cost_low=60, cost_high=300)
    >>> other = WorkshopOption(id="c", title="C", hours="9 h", cost_low=900, cost_high=950, renews=("hub",))
    >>> cost_to_put_right("belt", N(workshop=(plain, slow, other)))
    Cost(low=60.0, high=300.0, hours_low=1.0, hours_high=3.0)
    """
    mending = [o for o in mode.workshop if key in renewed_by(key, o)] or list(mode.workshop)
    works = [o for o in mending if not o.fits] or mending
    return _span(works) if works else None


def _span(works: Sequence[WorkshopOption]) -> Cost:
    return Cost(
        min(o.cost_low for o in works),
        max(o.cost_high for o in works),
        min(o.hours for o in works),
        max(o.hours for o in works),
    )
