"""A rig from above as plain data: vehicles, lines, blocks, the zone that everybody leaves, numbers of the parts."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import pairwise

from fieldkit.loads.drawing import WIDTH, Drawing, Point, Shape, box, disc, line, words
from fieldkit.recovery.result import Rig

NEAR, FAR, MIDDLE, GAP = 84.0, 250.0, 96.0, 18.0
HEIGHT, NUMBER = 182.0, 8.5


def rig_sheet(rig: Rig) -> Drawing:
    """A rig seen from above, not to scale; numbers are those of ``rig.parts``, from 1.

    The winch is on the left, at the stuck vehicle or, for a partner's winch, on the other vehicle; all lines lead to the right, to the
    anchor or to the stuck vehicle.
    """
    ends = ("winching vehicle", "stuck vehicle") if rig.partner else ("stuck vehicle", rig.anchor)
    gap = min(GAP, 108.0 / rig.lines)
    ys = [MIDDLE + gap * (i - (rig.lines - 1) / 2) for i in range(rig.lines)]
    loads = "; ".join(f"{n}: {p.name} {p.load_kgf:.0f} kg" for n, p in enumerate(rig.parts, 1))
    return Drawing(
        WIDTH,
        HEIGHT,
        rig.title or "Rig from above",
        f"{rig.lines} parts of line between {ends[0]} and {ends[1]}. {loads}.",
        (
            *_zone(rig),
            box("vehicle", 8, MIDDLE - 34, NEAR - 8, 68, ends[0]),
            *_far_end(rig, ys),
            *_lines(ys),
            *_blocks(ys),
            *_numbers(rig, ys),
            words("label", 8, MIDDLE + 52, ends[0]),
            words("label", WIDTH - 8, MIDDLE + 52, ends[1], "end"),
        ),
    )


def _zone(rig: Rig) -> list[Shape]:
    shapes = [box("zone", 2, 20, WIDTH - 4, HEIGHT - 22, "nobody stands here")]
    if rig.zone_m is not None:
        shapes.append(words("warning", WIDTH / 2, 14, f"Keep out: up to {rig.zone_m:.0f} m all round", "middle"))
    return shapes


def _far_end(rig: Rig, ys: list[float]) -> list[Shape]:
    """The anchor or the stuck vehicle, and what leads to it from every block and dead end there."""
    holds = [y for x, y in _turns(ys) if x == FAR] + (ys[-1:] if rig.lines % 2 else [])
    straps = [line("strap", (FAR, y), (FAR + 22, MIDDLE)) for y in holds]
    if rig.partner:
        return [*straps, box("vehicle", FAR + 22, MIDDLE - 34, WIDTH - FAR - 30, 68, "stuck vehicle")]
    return [*straps, disc("anchor", FAR + 38, MIDDLE, 16, rig.anchor)]


def _lines(ys: list[float]) -> list[Shape]:
    """Parts of line; the last one's dead end is at the far end when their number is odd."""
    return [line("rope", (NEAR, y), (FAR, y)) for y in ys]


def _turns(ys: list[float]) -> list[Point]:
    """Middles of the sheaves, in the order in which the line meets them."""
    return [(FAR if i % 2 == 0 else NEAR, (a + b) / 2) for i, (a, b) in enumerate(pairwise(ys))]


def _blocks(ys: list[float]) -> list[Shape]:
    radius = (ys[1] - ys[0]) / 2 if len(ys) > 1 else 0.0
    return [disc("block", x, y, radius, f"block {i}") for i, (x, y) in enumerate(_turns(ys), 1)]


def _numbers(rig: Rig, ys: list[float]) -> Iterable[Shape]:
    """A numbered disc beside each part, spread where several are in one place."""
    turns, used = iter(_turns(ys)), dict.fromkeys(("far", "near", "behind"), 0)
    rows = {"far": (FAR - 6, MIDDLE - 50), "near": (NEAR - 30, MIDDLE + 20), "behind": (16.0, MIDDLE - 50)}
    for number, part in enumerate(rig.parts, 1):
        if part.where == "winch":
            at = (NEAR - 30, MIDDLE)
        elif part.where in ("far-block", "near-block"):
            at = next(turns)
        elif part.where in rows:
            start = rows[part.where]
            at = (start[0] + 20 * used[part.where], start[1])
            used[part.where] += 1
        else:
            at = ((NEAR + FAR) / 2, ys[0] - 13)
        yield disc("number", *at, NUMBER, part.name)
        yield words("number-text", at[0], at[1] + 4.5, str(number), "middle")
