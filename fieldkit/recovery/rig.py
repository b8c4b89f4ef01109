"""A rig for a pull: as many parts of line as it takes, every part's load, the weakest named."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fieldkit.recovery.figures import RecoveryFigures, recovery_figures
from fieldkit.recovery.result import Rig, RigPart
from fieldkit.recovery.rigging import (
    block_load,
    bridle_leg,
    exclusion_m,
    fall_line,
    least_lines,
    shackle_share,
    sheaves_of,
    winch_pull_by_layer,
)


@dataclass(frozen=True)
class Block:
    """A snatch block or ring: name, working load [kgf] or None, share of the pull lost at it [-]."""

    name: str
    rated_kgf: float | None
    loss: float


@dataclass(frozen=True)
class Gear:
    """What a rig is made of; working loads [kgf], None where the mark is not known.

    ``strap``: round the anchor, rating of one leg. ``points``: whether the stuck vehicle has rated recovery points at all, ``point_kgf``
    their rating: without them only its own winch's single line may pull on it. ``anchor``: what holds.
    ``holder``: for a winch on another vehicle, its name and what it holds when braked and chocked.
    """

    blocks: tuple[Block, ...] = ()
    strap: tuple[str, float | None] | None = None
    shackle: tuple[str, float | None] | None = None
    points: bool = True
    point_kgf: float | None = None
    line_kgf: float | None = None
    anchor: tuple[str, float | None] = ("anchor", None)
    holder: tuple[str, float | None] | None = None


@dataclass(frozen=True)
class Angles:
    """Angles of a rig [degrees]: between the parts of line at a block, of the strap round the anchor, of the shackle's pull."""

    line_deg: float = 0.0
    bridle_deg: float | None = None
    shackle_deg: float = 0.0


def rig(
    total_kgf: float,
    winch_kgf: float,
    gear: Gear | None = None,
    *,
    layer: int = 1,
    angles: Angles | None = None,
    sheave_loss: float | None = None,
    title: str = "",
    figures: RecoveryFigures | None = None,
) -> Rig:
    """The rig with the fewest parts of line that gives a pull.

    Steps: parts of line = pull / capacity, rounded up; one sheave less than lines, each losing its share of the pull; fall line =
    total / lines; while the fall line is not below the capacity, or a marked part is beyond its rating, one more line.

    Parameters
    ----------
    total_kgf : float
        Pull needed, before the sheaves' resistance [kgf], 0 or more.
    winch_kgf : float
        Rated pull of the winch, rope on the first layer [kgf], above 0.
    gear : Gear or None
        Blocks, strap, shackle, points and anchor at hand. None: as many blocks as it takes, nothing marked.
    layer : int
        Layer of the drum that the rope is on; 1 has the full pull.
    angles : Angles or None
        Lines that are not parallel, a wide bridle, a shackle pulled sideways.
    sheave_loss : float or None
        Share lost at each sheave [-]; None: of each block of the gear, or the figures' 10 %.
    title : str
        What the rig is for.

    Returns
    -------
    Rig
        ``fits`` is False when no rig of the blocks at hand does it; the best one is then shown with what is beyond its rating.

    Raises
    ------
    ValueError
        If the pull is below 0, the winch not above 0, or an angle impossible.

    Examples
    --------
    >>> found = rig(60_000, 21_000)
    >>> found.lines, round(found.total_kgf), round(found.fall_line_kgf)
    (4, 78000, 19500)

    References
    ----------
    .. [1] US Army lesson 63H34F01 supplement 1b, rigging formula block; TB 9-2350-292-10 (June 2000), steps 4 and 5.
    """
    figures = figures or recovery_figures()
    if total_kgf < 0:
        raise ValueError(f"pull {total_kgf:g} must be 0 or more")
    case = _Case(total_kgf, winch_kgf, gear, layer, angles or Angles(), sheave_loss, title, figures)
    most = figures.rigging.most_lines if gear is None else min(_most_lines(gear), figures.rigging.most_lines)
    first = min(least_lines(total_kgf, case.capacity_kgf), most)
    tried = [case.rigged(lines) for lines in range(first, most + 1)]
    whole = [r for r in tried if r.fits]
    winched = [r for r in tried if r.fall_line_kgf < case.capacity_kgf]
    return (whole or winched or tried[-1:])[0]


def _most_lines(gear: Gear) -> int:
    """One line more than there are blocks; one line where nothing may be brought back to the vehicle."""
    return len(gear.blocks) + 1 if gear.points or gear.holder else 1


def _name(part: tuple[str, float | None] | None, usual: str) -> str:
    return part[0] if part else usual


@dataclass(frozen=True)
class _Case:
    pull_kgf: float
    winch_kgf: float
    gear: Gear | None
    layer: int
    angles: Angles
    sheave_loss: float | None
    title: str
    figures: RecoveryFigures

    @property
    def capacity_kgf(self) -> float:
        return winch_pull_by_layer(self.winch_kgf, self.layer, self.figures)

    @property
    def no_point(self) -> bool:
        """Another's winch would pull on a vehicle without a rated point."""
        return bool(self.gear and self.gear.holder and not self.gear.points)

    def blocks(self, lines: int) -> list[Block]:
        """The blocks of a rig: those at hand that lose least first, or unmarked ones."""
        usual = Block("snatch block", None, self.figures.rigging.sheave_loss)
        have = list(self.gear.blocks) if self.gear else [usual] * sheaves_of(lines)
        return have[: sheaves_of(lines)]

    def rigged(self, lines: int) -> Rig:
        blocks = self.blocks(lines)
        lost = sum(b.loss for b in blocks) / len(blocks) if blocks else 0.0
        total, fall = fall_line(self.pull_kgf, lines, lost if self.sheave_loss is None else self.sheave_loss)
        if lines > 1:
            fall /= block_load(1.0, self.angles.line_deg) / 2
        parts = tuple(self._parts(lines, fall, blocks))
        weakest = max((p for p in parts if p.used is not None), key=lambda p: p.used or 0.0, default=None)
        fits = fall < self.capacity_kgf and all(p.used is None or p.used <= 1 for p in parts) and not self.no_point
        out = self.figures.winch.rope_m - self.figures.winch.wraps_m
        return Rig(
            lines=lines,
            sheaves=sheaves_of(lines),
            total_kgf=total,
            fall_line_kgf=fall,
            parts=parts,
            weakest=weakest.name if weakest else "no part is marked",
            fits=fits,
            note=self._note(lines, blocks, parts, out),
            title=self.title,
            pull_kgf=self.pull_kgf,
            partner=bool(self.gear and self.gear.holder),
            anchor=self.gear.anchor[0] if self.gear else "anchor",
            reach_m=out / lines,
            zone_m=exclusion_m(out, self.figures),
        )

    # ------------------------------------------------------------------------------------- parts
    def _parts(self, lines: int, fall: float, blocks: Sequence[Block]) -> list[RigPart]:
        gear = self.gear or Gear()
        parts = [
            RigPart("winch", fall, self.capacity_kgf, "winch"),
            RigPart("winch line", fall, gear.line_kgf, "line"),
            *(self._block(b, i, fall) for i, b in enumerate(blocks)),
        ]
        if gear.holder:
            return parts + self._partner_parts(gear, gear.holder, fall * lines)
        return parts + self._anchor_parts(gear, fall * lines, "far") + self._point_parts(gear, fall * (lines - 1))

    def _block(self, block: Block, at: int, fall: float) -> RigPart:
        """Every second sheave turns the line back at the far end, the others at the winch's."""
        far = at % 2 == 0
        name = f"{block.name} at the {'far' if far else 'winch'} end"
        return RigPart(name, self._on_block(fall), block.rated_kgf, "far-block" if far else "near-block")

    def _on_block(self, fall: float) -> float:
        return block_load(fall, self.angles.line_deg)

    def _anchor_parts(self, gear: Gear, load: float, where: str) -> list[RigPart]:
        """What all lines together pull on at an anchor: its shackle is the dead line that holds the most of them."""
        behind = "tie-back " if where == "behind" else ""
        parts = [self._shackle(gear, f"{behind}{_name(gear.shackle, 'shackle')} at the anchor", load, where)]
        if gear.strap:
            wide = self.angles.bridle_deg if self.angles.bridle_deg is not None else self.figures.rigging.bridle_deg
            leg = bridle_leg(load, wide, self.figures)
            parts.append(RigPart(f"{behind}{gear.strap[0]}, each leg at {wide:.0f}°", leg, gear.strap[1], where))
        return [*parts, RigPart(f"{behind}{gear.anchor[0]}", load, gear.anchor[1], where)]

    def _shackle(self, gear: Gear, name: str, load: float, where: str) -> RigPart:
        share = shackle_share(self.angles.shackle_deg, self.figures)
        rated = gear.shackle[1] if gear.shackle else None
        return RigPart(name, load, None if rated is None else rated * share, where)

    def _point_parts(self, gear: Gear, load: float) -> list[RigPart]:
        """Lines that come back to the vehicle with the winch end at its recovery point."""
        return [RigPart("recovery point of the vehicle", load, gear.point_kgf, "near")] if load > 0 else []

    def _partner_parts(self, gear: Gear, holder: tuple[str, float | None], load: float) -> list[RigPart]:
        """A winch on another vehicle: all lines pull on the stuck vehicle's point, and on what holds the other.

        Where brakes and chocks do not hold it and a strap is at hand, it is tied back to an anchor.
        """
        name, holds = holder
        parts = [
            self._shackle(gear, f"{_name(gear.shackle, 'shackle')} at the stuck vehicle", load, "far"),
            RigPart("recovery point of the stuck vehicle", load, gear.point_kgf, "far"),
        ]
        if holds is not None and load > holds and gear.strap:
            return parts + self._anchor_parts(gear, load, "behind")
        return [*parts, RigPart(f"{name}, braked and chocked", load, holds, "behind")]

    # -------------------------------------------------------------------------------------- note
    def _note(self, lines: int, blocks: Sequence[Block], parts: Sequence[RigPart], out: float) -> str:
        text = self.figures.text
        said = []
        if self.layer > 1:
            said.append(text["layer"].format(layer=self.layer, rated=self.capacity_kgf))
        full = self._on_block(self.winch_kgf)
        weak = [b.name for b in blocks if b.rated_kgf is not None and full > b.rated_kgf]
        if weak:
            said.append(text["full_pull"].format(load=full, part=weak[0]))
        line = "A single line" if lines == 1 else f"A {lines}-part line"
        said.append(text["reach"].format(line=line, reach=out / lines, zone=exclusion_m(out, self.figures)))
        if self.gear and self.gear.holder:
            tied = any(p.name.startswith("tie-back") for p in parts)
            said.append(text["tied" if tied else "held"].format(name=self.gear.holder[0]))
        if self.no_point:
            said.append(text["no_points"])
        if over := [p.name for p in parts if (p.used or 0.0) > 1]:
            said.append(text["beyond"].format(parts=", ".join(over)))
        unmarked = list(dict.fromkeys(p.name for p in parts if p.rated_kgf is None))
        if self.gear and unmarked:
            said.append(text["unmarked"].format(parts=", ".join(unmarked)))
        return " ".join(said)
