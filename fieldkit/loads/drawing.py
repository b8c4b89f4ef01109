"""Drawings as plain data: points and words in drawing units, y downwards. Pages turn them into SVG."""

from __future__ import annotations

from dataclasses import dataclass
from math import sqrt
from typing import Literal

from fieldkit.loads.fitted_tyres import fitted_tyre
from fieldkit.loads.limits import is_trailer
from fieldkit.loads.result import Margin, VehicleLoads
from fieldkit.specs.trip import Vehicle

#: Laid out for a phone 320 units wide; text is 12.5 units, so that no letter falls below 11 px there.
WIDTH = 320.0
TEXT = 12.5
Point = tuple[float, float]


@dataclass(frozen=True)
class Shape:
    """One stroke or word. ``role`` says what it stands for; pages choose its look.

    Points: two or more for ``line`` and ``polygon``, one for ``circle`` and ``text``. ``text`` of anything but a text is a
    description for those who hear the page.
    """

    kind: Literal["line", "polygon", "circle", "text"]
    points: tuple[Point, ...]
    role: str
    text: str = ""
    radius: float = 0.0
    anchor: Literal["start", "middle", "end"] = "start"


@dataclass(frozen=True)
class Drawing:
    """Width and height in units, a title and a description in words, the shapes from back to front."""

    width: float
    height: float
    title: str
    desc: str
    shapes: tuple[Shape, ...]


def line(role: str, *points: Point, text: str = "") -> Shape:
    """A stroke through points."""
    return Shape("line", _rounded(points), role, text)


def box(role: str, x: float, y: float, width: float, height: float, text: str = "") -> Shape:
    """An upright rectangle from its upper left corner."""
    corners = ((x, y), (x + width, y), (x + width, y + height), (x, y + height))
    return Shape("polygon", _rounded(corners), role, text)


def disc(role: str, x: float, y: float, radius: float, text: str = "") -> Shape:
    """A circle."""
    return Shape("circle", _rounded([(x, y)]), role, text, round(radius, 1))


def words(role: str, x: float, y: float, text: str, anchor: Literal["start", "middle", "end"] = "start") -> Shape:
    """A line of text on its base line."""
    return Shape("text", _rounded([(x, y)]), role, text, anchor=anchor)


def _rounded(points: object) -> tuple[Point, ...]:
    return tuple((round(float(x), 1) + 0.0, round(float(y), 1) + 0.0) for x, y in points)  # type: ignore[attr-defined]


# ------------------------------------------------------------------------------------- side view
GROUND, LEFT, RIGHT, BAR = 150.0, 8.0, 312.0, 140.0


def side_view(loads: VehicleLoads, vehicle: Vehicle) -> Drawing:
    """A vehicle from its left side, front on the left: masses where they sit, their centre, a bar under each axle.

    Discs grow with the mass; the build itself is drawn as the outline. A bar shows the axle's load against its limit.
    """
    state = loads.states.get("with-kit") or loads.states["departure"]
    view = _View(vehicle)
    masses = [
        disc("mass", view.x(e.x_m), view.y(e.z_m), 0.75 * sqrt(e.mass_kg), f"{e.name}, {e.mass_kg:.0f} kg")
        for e in sorted(loads.entries, key=lambda e: -e.mass_kg)
        if e.mass_kg >= 10 and e.kind not in ("build", "unexplained")
    ]
    centre_x = vehicle.archetype.wheelbase_m * state.front_kg / state.gross_kg if state.gross_kg else 0.0
    axles = [m for m in loads.margins if m.limit in ("front-axle", "rear-axle")]
    said = "; ".join(f"{m.words} {m.actual_kg:.0f} of {m.limit_kg:.0f} kg" for m in axles)
    return Drawing(
        WIDTH,
        GROUND + 66,
        f"{vehicle.name} from the side",
        f"{said}. Centre of gravity about {state.centre_height_m:.2f} m above the ground.",
        (
            line("ground", (LEFT, GROUND), (RIGHT, GROUND)),
            view.outline(),
            *view.wheels(),
            *masses,
            *_centre(view.x(centre_x), view.y(state.centre_height_m)),
            *(shape for i, margin in enumerate(axles) for shape in _bar(margin, i)),
        ),
    )


class _View:
    """Metres to drawing units: the vehicle between the margins, as large as fits."""

    def __init__(self, vehicle: Vehicle) -> None:
        self.vehicle, self.length = vehicle, vehicle.archetype.wheelbase_m
        places = vehicle.places.values()
        profile = [x for x, _ in self._profile()]
        self.back = min([*profile, *(p.x_m for p in places)]) - 0.1
        self.front = max([*profile, *(p.x_m for p in places)]) + 0.1
        self.top = max([1.9, *(p.z_m + 0.15 for p in places)])
        self.scale = min((RIGHT - LEFT) / (self.front - self.back), (GROUND - 8) / self.top)
        self.radius = fitted_tyre(vehicle).fitted.diameter_mm / 2000

    def x(self, ahead_m: float) -> float:
        middle = (self.front + self.back) / 2
        return WIDTH / 2 - (ahead_m - middle) * self.scale

    def y(self, height_m: float) -> float:
        return GROUND - height_m * self.scale

    def wheels(self) -> list[Shape]:
        at = [0.0] if is_trailer(self.vehicle) else [0.0, self.length]
        return [disc("wheel", self.x(a), self.y(self.radius), self.radius * self.scale) for a in at]

    def outline(self) -> Shape:
        points = [(self.x(a), self.y(b)) for a, b in self._profile()]
        return Shape("polygon", _rounded(points), "body")

    def _profile(self) -> list[Point]:
        """A plain body by kind: trailer, tray or wagon; heights from the roof place where there is one."""
        length, sill = self.length, 0.55
        roof = min((p.z_m - 0.08 for p in self.vehicle.places.values() if p.on_roof), default=1.8)
        if is_trailer(self.vehicle):
            return [(-1.2, sill), (-1.2, roof), (1.1, roof), (1.1, sill + 0.1), (length, sill), (length, sill - 0.08)]
        if "camper-body" in self.vehicle.archetype.features:
            return [(-1.7, sill), (-1.7, roof), (length * 0.7, roof), (length + 0.8, roof - 0.3), (length + 0.9, sill)]
        waist = 0.55 * roof + 0.15
        tail = waist if "load-tray" in self.vehicle.features else roof
        at = [(-1.0, sill), (-1.0, tail), (length * 0.22, tail), (length * 0.24, roof), (length * 0.62, roof)]
        return [*at, (length * 0.8, waist + 0.08), (length + 0.7, waist - 0.05), (length + 0.75, sill)]


def _centre(x: float, y: float) -> list[Shape]:
    """The usual sign of a centre of gravity: a ring with a cross."""
    return [
        disc("centre", x, y, 6, "centre of gravity"),
        line("centre", (x - 9, y), (x + 9, y)),
        line("centre", (x, y - 9), (x, y + 9)),
    ]


def _bar(margin: Margin, at: int) -> list[Shape]:
    """An axle's bar: full length is 1.15 times the limit, a tick stands at the limit."""
    left = LEFT if at == 0 else RIGHT - BAR
    top, full = GROUND + 44, BAR / 1.15
    share = margin.actual_kg / margin.limit_kg if margin.limit_kg else 0.0
    role = "over" if margin.left_kg < 0 else "bar"
    return [
        words("label", left, GROUND + 18, margin.words),
        words("label", left, GROUND + 34, f"{margin.actual_kg:.0f} of {margin.limit_kg:.0f} kg"),
        box("bar-frame", left, top, BAR, 12),
        box(role, left, top, min(max(share, 0.0), 1.15) * full, 12, f"{100 * share:.0f} % of the limit"),
        line("limit", (left + full, top - 4), (left + full, top + 16)),
    ]
