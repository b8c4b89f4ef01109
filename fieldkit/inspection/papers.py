"""Reasons beside the mechanical: weighing, inspector and date, shakedown, expired items, figures, water and fuel."""

from __future__ import annotations

from datetime import date, timedelta

from fieldkit.exposure.result import Exposure
from fieldkit.inspection.defects import Case, unsafe_defect
from fieldkit.inspection.result import Reason
from fieldkit.inspection.settings import figures_asked
from fieldkit.likelihood.history import history_of
from fieldkit.likelihood.settings import settings_of
from fieldkit.loads.result import VehicleLoads
from fieldkit.quantities import both
from fieldkit.specs.trip import Stock


def weighing(case: Case, loads: VehicleLoads) -> list[Reason]:
    """Not weighed, or over a limit; who is over takes load out, no workshop helps."""
    states, reasons = case.rules.states, []
    if not loads.weighed:
        text = "Not weighed: the masses are sums of what the files say"
        reasons.append(Reason(text, states.not_weighed, None, "Weigh it laden, axle by axle.", "driver"))
    ways = " ".join(loads.ways_back)
    for margin in loads.margins:
        if margin.left_kg < 0:
            text = (
                f"Overloaded: {margin.words} {both(margin.actual_kg, 'kg', 0)}, limit {both(margin.limit_kg, 'kg', 0)}"
            )
            mend = ways or f"Take out at least {both(-margin.left_kg, 'kg', 0)}."
            reasons.append(Reason(text, states.overloaded, None, mend, "driver", loads.weighed))
    return reasons


def looked_at(case: Case) -> list[Reason]:
    """No look at all, no inspector named, or the latest look too long ago."""
    rules, mine = case.rules, [f for f in case.trip.findings if f.vehicle == case.vehicle.id]
    seen = [f for f in mine if f.finding != "not-seen"]
    if not seen:
        return [Reason("No inspection on record", rules.states.no_inspector, None, "Inspect it, with date and name.")]
    reasons = []
    if not any(f.inspector for f in seen):
        reasons.append(Reason("No inspector named on any finding", rules.states.no_inspector, None, "Sign the form."))
    last = max(f.date for f in seen)
    if (case.trip.head.start - last).days > rules.findings.stale_days:
        text = f"Last looked at {last.isoformat()}, {(case.trip.head.start - last).days} days before departure"
        reasons.append(Reason(text, rules.states.stale, None, "Look again."))
    return reasons


def looked_words(case: Case) -> str:
    """Who looked, when, and at how much, for the vehicle's page."""
    seen = [f for f in case.trip.findings if f.vehicle == case.vehicle.id and f.finding != "not-seen"]
    if not seen:
        return "not looked at"
    points = {f.failure_mode for f in seen}
    safety = {k for k, m in case.modes() if m.inspection and unsafe_defect(m)}
    who = ", ".join(sorted({f.inspector for f in seen if f.inspector})) or "no inspector named"
    dates = sorted({f.date.isoformat() for f in seen})
    when = dates[0] if len(dates) == 1 else f"{dates[0]} to {dates[-1]}"
    return f"{len(points)} points looked at {when} by {who}; {len(points & safety)} of {len(safety)} safety points"


def shakedown(case: Case) -> list[Reason]:
    """Major work not long ago, and no shakedown far enough since."""
    rule, vehicle = case.rules.major_work, case.vehicle
    if vehicle.spec.shakedown_km >= rule.shakedown_km:
        return []
    recent = _recent_major_work(case)
    if not recent:
        return []
    text = f"No shakedown of {both(rule.shakedown_km, 'km', 0)} since {', '.join(recent[:3])}"
    return [Reason(text, case.rules.states.no_shakedown, None, "Drive it laden, then re-torque and look again.")]


def after_shakedown(case: Case, hours: float) -> list[Reason]:
    """What major work before leaving asks for in its turn."""
    rule = case.rules.major_work
    if hours < rule.hours:
        return []
    text = f"After {hours:.3g} h of work: a shakedown of {both(rule.shakedown_km, 'km', 0)} and a re-torque before departure"
    return [Reason(text, case.rules.states.no_shakedown, mend="Drive it laden, then re-torque.", only_after=True)]


def _recent_major_work(case: Case) -> list[str]:
    library, rule = case.trip.library, case.rules.major_work
    history = history_of(case.trip, case.vehicle, settings_of(library))
    found = []
    for (key, _), renewal in sorted(history.renewals.items()):
        hours = max((o.hours for o in library.failure_modes[key].workshop), default=0.0)
        if renewal.days_ago <= rule.recent_days and hours >= rule.hours and renewal.source != "date code":
            found.append(library.failure_modes[key].title)
    return list(dict.fromkeys(found))


def expiry(case: Case, first_vehicle: str) -> list[Reason]:
    """Items that expire before the trip ends, or whose date nobody wrote down."""
    head, states = case.trip.head, case.rules.states
    end = head.start + timedelta(days=head.days)
    must = {rule.item for rule in case.trip.library.must_carry.values()}
    reasons = []
    for stock in case.trip.inventory:
        if (stock.vehicle or first_vehicle) != case.vehicle.id or stock.item not in case.trip.library.items:
            continue
        item = case.trip.library.items[stock.item]
        if stock.good_until and stock.good_until < end:
            state = states.expired_must_carry if stock.item in must else states.expired
            text = f"{item.name}: {_expired(stock, head.start)}, the trip ends {end.isoformat()}"
            reasons.append(Reason(text, state, None, "Renew it before leaving.", "driver", stock.owner))
        elif item.shelf_life_months and stock.good_until is None and stock.item in must:
            text = f"{item.name}: must be carried, and its date is not written down"
            reasons.append(Reason(text, states.no_date, None, "Read the date on it.", "driver", stock.owner))
    return reasons


def _expired(stock: Stock, start: date) -> str:
    good = stock.good_until or start
    return f"{'expired' if good < start else 'expires'} {good.isoformat()}"


def figures(case: Case) -> list[Reason]:
    """Blank lines of the owner's figures sheet."""
    sheet = case.vehicle.spec.figures
    asked = figures_asked(case.rules, case.features)
    blank = [words for key, words in asked.items() if not sheet.get(key, "").strip()]
    if not blank:
        return []
    text = f"Figures sheet has blank lines: {', '.join(blank)}"
    return [Reason(text, case.rules.states.figures_blank, None, "Fill them in from the maker's manual.", "driver")]


def odd_spare(case: Case) -> list[Reason]:
    """A spare wheel of another size than the wheels fitted."""
    if "odd-spare" not in case.features:
        return []
    text = "The spare is of another size than the wheels fitted"
    mend = "Carry a spare of the fitted size, or keep differentials unlocked and speeds down on it."
    return [Reason(text, case.rules.states.odd_spare, None, mend, "driver")]


def supplies(case: Case, exposure: Exposure) -> list[Reason]:
    """Water against hours to help, fuel between fuel points, and what the supplies' own reckoning found."""
    states, reasons = case.rules.states, []
    margin = exposure.remoteness.water_margin_days
    wanted = case.trip.head.limits.water_margin_days
    least = float(margin.min()) if len(margin) else wanted
    if least < 0:
        text = f"Water runs out {-least:.1f} days before help can come, at the furthest-out stretch"
        reasons.append(Reason(text, states.water_short, None, "Carry more water, or a shorter way to help.", "driver"))
    elif least < wanted:
        text = f"Water lasts {least:.1f} days beyond the time to help; {wanted:.1f} are wanted"
        reasons.append(Reason(text, states.water_thin, None, "Carry more water.", "driver"))
    for line in exposure.supplies.fuel:
        if line.vehicle == case.vehicle.id and line.margin_l < 0:
            text = (
                f"Fuel from {line.from_name} to {line.to_name}: {both(-line.margin_l, 'L', 0)} short with its reserve"
            )
            reasons.append(Reason(text, states.fuel_short, None, "Carry more, or fill up in between.", "driver"))
    return reasons + [Reason(f, states.supplies) for f in exposure.supplies.faults if f.startswith(case.vehicle.name)]
