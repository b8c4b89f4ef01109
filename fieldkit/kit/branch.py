"""Branch and cut for kit programs, for one budget or a whole range of budgets in one tree.

The linear relaxation stays hot from node to node. Its value v at the largest budget still open, with the price p of the
budget's row, bounds every smaller budget b by v + p (b - largest): the relaxation is concave in the budget. A node is closed
when no budget is left that it could improve by a whole unit. Rounding cuts close most of the gap at the root; what a flip of
a variable would cost fixes variables; what branching has cost before chooses the next variable.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field

import highspy
import numpy as np
from numpy.typing import NDArray

from fieldkit.kit.cuts import rounding_cut
from fieldkit.kit.matrix import Matrix, load

Floats = NDArray[np.float64]

Fill = Callable[[Floats, Floats, Floats, Floats], Floats | None]

#: Objectives are whole numbers; a bound this far below the next one is still below it.
SURE = 1e-3
#: Values this close to a whole number are whole.
WHOLE = 1e-6
ROOT_ROUNDS, NODE_ROUNDS, CUT_DEPTH = 12, 1, 6
#: Nodes at which whole answers are made from the fractional one: all near the root, then now and then.
FILL_DEPTH, FILL_EVERY = 4, 8
#: Fractional variables whose branches are tried out at one node, at most.
MOST_TRIED = 10
#: Relaxations of the first dive for a good whole answer.
MOST_DIVES = 25


@dataclass(frozen=True)
class Cut:
    """``values @ x[columns] <= high``, for limits no larger than ``limits`` (None: always)."""

    columns: NDArray[np.int32]
    values: Floats
    high: float
    limits: Floats | None


@dataclass
class Best:
    """The best answer found at one budget, None when there is none, and the bound that no answer can exceed."""

    objective: int
    values: Floats | None
    bound: int

    @property
    def proven(self) -> bool:
        """Whether the search was complete: the answer is the best, or there is none."""
        return self.bound <= self.objective


@dataclass(order=True)
class _Node:
    priority: tuple[float, int]
    lower: Floats = field(compare=False)
    upper: Floats = field(compare=False)
    depth: int = field(compare=False)
    open: NDArray[np.int64] = field(compare=False)


class Tree:
    """A hot relaxation of one matrix, with what it has learned (cuts, costs of branching).

    Parameters
    ----------
    table : Matrix
        All variables whole, lower bounds 0 or more, objective in whole numbers.
    limits : int
        How many of the first rows are limits that may change.
    first : array of bool, shape (columns,)
        Columns that are branched on before the others.
    fill : function or None
        (column values, limits, prices, most of each column) of a relaxation -> a whole-number answer that keeps the limits, or None.
    """

    def __init__(self, table: Matrix, limits: int, first: NDArray[np.bool_], fill: Fill | None = None) -> None:
        self.table, self.limits, self.first, self.fill = table, limits, first, fill
        self.size = len(table.objective)
        self.solver = highspy.Highs()
        self.solver.setOptionValue("output_flag", False)
        self.solver.setOptionValue("presolve", "off")
        load(self.solver, table, table.upper_rows, whole=False)
        self.rows = table.rows.shape[0]
        self.lower, self.upper = table.lower.copy(), table.upper.copy()
        self.cuts: list[Cut] = []
        self.loaded: list[Cut] = []
        self.costs = np.zeros((2, self.size))
        self.tries = np.zeros((2, self.size))
        self.solved = 0
        self._wide = self._wide_rows()

    def _wide_rows(self) -> list[int]:
        """Rows with unlike coefficients: the ones that rounding can sharpen."""
        data, ends = np.abs(self.table.rows.data), self.table.rows.indptr
        start = [r for r in range(self.rows) if ends[r + 1] > ends[r]]
        return [r for r in start if data[ends[r] : ends[r + 1]].max() > 1.0]

    # ------------------------------------------------------------------ the search
    def search(
        self,
        limits: Floats,
        row: int,
        budgets: Sequence[int],
        known: Sequence[Floats] = (),
        lower: Floats | None = None,
        upper: Floats | None = None,
        most_solves: int = 1500,
    ) -> dict[int, Best]:
        """The best answer at every budget of one limit.

        Parameters
        ----------
        limits : (limits,)
            The other limits; entry ``row`` is replaced by each budget in turn.
        budgets : whole numbers, at least one.
        known : answers to start from; each serves the budgets that it keeps.
        lower, upper : (columns,) or None
            Bounds within the table's own.
        most_solves : int
            Relaxations after which the search gives up; budgets still open come back with a bound above their answer.
        """
        least = self.table.lower if lower is None else np.maximum(lower, self.table.lower)
        most = self.table.upper if upper is None else np.minimum(upper, self.table.upper)
        sizes = np.array(sorted(set(budgets)), np.int64)
        case = _Case(self, np.asarray(limits, float), row, sizes, most_solves, (least, most))
        for values in known:
            case.offer(values)
        kept = list(self.cuts)
        case.run(least, most)
        if lower is not None or upper is not None:  # cuts made under narrower bounds hold under those alone
            self.cuts = kept
        return case.results()

    # -------------------------------------------------------------- the relaxation
    def set_limits(self, limits: Floats) -> None:
        """Other limits; cuts that hold under them are loaded, the others left out."""
        for row, limit in enumerate(limits.tolist()):
            self.solver.changeRowBounds(row, -np.inf, limit)
        self.cuts = [c for c in self.cuts if c.limits is None or not (limits > c.limits).any()]
        stays = 0
        while stays < min(len(self.cuts), len(self.loaded)) and self.cuts[stays] is self.loaded[stays]:
            stays += 1
        if stays < len(self.loaded):
            rows = np.arange(self.rows + stays, self.rows + len(self.loaded), dtype=np.int32)
            self.solver.deleteRows(len(rows), rows)
            del self.loaded[stays:]
        for cut in self.cuts[stays:]:
            self._load(cut)

    def set_budget(self, row: int, budget: float) -> None:
        self.solver.changeRowBounds(row, -np.inf, budget)

    def add(self, cut: Cut) -> None:
        self.cuts.append(cut)
        self._load(cut)

    def _load(self, cut: Cut) -> None:
        self.solver.addRow(-np.inf, cut.high, len(cut.columns), cut.columns, cut.values)
        self.loaded.append(cut)

    def relax(self, lower: Floats, upper: Floats) -> tuple[float, Floats, Floats] | None:
        """Value, column values and column prices of the relaxation between bounds; None when there is none."""
        self._bound(lower, upper)
        self.solver.run()
        self.solved += 1
        if self.solver.getModelStatus() != highspy.HighsModelStatus.kOptimal:
            return None
        found = self.solver.getSolution()
        self._prices = found.row_dual
        value = -self.solver.getInfo().objective_function_value
        return value, np.array(found.col_value), -np.array(found.col_dual)

    def price(self, row: int) -> float:
        """What one more unit of a limit is worth in the last relaxation, 0 or more."""
        return max(0.0, -float(self._prices[row]))

    def prices(self) -> Floats:
        """Prices of all limits in the last relaxation."""
        return np.maximum(0.0, -np.array(self._prices[: self.limits]))

    def _bound(self, lower: Floats, upper: Floats) -> None:
        changed = np.flatnonzero((lower != self.lower) | (upper != self.upper))
        if len(changed):
            self.solver.changeColsBounds(len(changed), changed.astype(np.int32), lower[changed], upper[changed])
            self.lower, self.upper = lower, upper

    # ------------------------------------------------------------------------ cuts
    def sharpen(self, values: Floats, high: Floats, upper: Floats, limits: Floats) -> int:
        """Add every broken rounding cut of the wide rows that are tight at some values; how many."""
        table, added = self.table, 0
        for row in self._wide:
            start, end = table.rows.indptr[row], table.rows.indptr[row + 1]
            columns, coefficients = table.rows.indices[start:end], table.rows.data[start:end]
            at = values[columns]
            if coefficients @ at < high[row] - WHOLE * max(1.0, abs(high[row])):
                continue
            if np.abs(at - np.rint(at)).max() < WHOLE:
                continue
            limited = row < self.limits
            bounds = (upper if limited else table.upper)[columns]
            cut = rounding_cut(coefficients, high[row], at, bounds)
            if cut is not None:
                kept = np.abs(cut[0]) > 1e-9
                spare = 1e-7 * (1.0 + abs(cut[1]))
                self.add(Cut(columns[kept].astype(np.int32), cut[0][kept], cut[1] + spare, limits if limited else None))
                added += 1
        return added


class _Case:
    """One search: budgets, the best answers so far, open nodes."""

    def __init__(
        self,
        tree: Tree,
        limits: Floats,
        row: int,
        budgets: NDArray[np.int64],
        most: int,
        bounds: tuple[Floats, Floats],
    ) -> None:
        self.bounds = bounds
        self.tree, self.limits, self.row, self.budgets = tree, limits.copy(), row, budgets
        self.limits[row] = budgets[-1]
        self.best = np.full(len(budgets), -1, np.int64)
        self.values: list[Floats | None] = [None] * len(budgets)
        self.left = most
        self.heap: list[_Node] = []
        self.number = 0
        self.bound = np.full(len(budgets), -1.0)

    def results(self) -> dict[int, Best]:
        bounds = np.maximum(np.floor(self.bound + SURE).astype(np.int64), self.best)
        rows = zip(self.budgets.tolist(), self.best.tolist(), self.values, bounds.tolist(), strict=True)
        return {b: Best(o, v, c) for b, o, v, c in rows}

    def offer(self, values: Floats) -> bool:
        """A whole-number answer: it serves every budget that it keeps; whether it is better at one.

        One outside the search's bounds is refused: it answers another question.
        """
        table = self.tree.table
        least, most = self.bounds
        if (values < least).any() or (values > most).any():
            return False
        got = table.rows[: self.tree.limits] @ values
        others = np.delete(got, self.row) <= np.delete(self.limits, self.row)
        if not others.all():
            return False
        objective = round(float(table.objective @ values))
        better = (self.budgets >= got[self.row]) & (self.best < objective)
        for k in np.flatnonzero(better).tolist():
            self.best[k], self.values[k] = objective, values
        return bool(better.any())

    # -------------------------------------------------------------------- the loop
    def run(self, lower: Floats, upper: Floats) -> None:
        tree = self.tree
        tree.set_limits(self.limits)
        self.high = np.concatenate([self.limits, tree.table.upper_rows[tree.limits :]])
        upper = self._tightened(lower, upper)
        self.upper = upper
        self._push(np.inf, lower, upper, 0, np.arange(len(self.budgets)))
        current: _Node | None = None
        while current is not None or self.heap:
            node = current if current is not None else heapq.heappop(self.heap)
            if self.left <= 0:
                self._give_up(-node.priority[0], node.open)
                current = None
                continue
            current = self._visit(node)

    def _give_up(self, value: float, still: NDArray[np.int64]) -> None:
        """Leave a node unexplored: its value bounds the budgets it was open for."""
        if np.isinf(value):
            value = float(
                self.tree.table.objective[self.tree.table.objective > 0] @ self.upper[self.tree.table.objective > 0]
            )
        self.bound[still] = np.maximum(self.bound[still], value)

    def _tightened(self, lower: Floats, upper: Floats) -> Floats:
        """Upper bounds that the limits alone allow, everything else at its least."""
        upper = upper.copy()
        rows = self.tree.table.rows
        for row in range(self.tree.limits):
            start, end = rows.indptr[row], rows.indptr[row + 1]
            columns, weights = rows.indices[start:end], rows.data[start:end]
            if (weights < 0).any():
                continue
            room = self.limits[row] - float(weights @ lower[columns])
            most = lower[columns] + np.floor(np.maximum(room, 0.0) / weights + 1e-9)
            upper[columns] = np.minimum(upper[columns], np.maximum(most, lower[columns]))
        return upper

    def _push(self, bound: float, lower: Floats, upper: Floats, depth: int, still: NDArray[np.int64]) -> None:
        heapq.heappush(self.heap, self._node(bound, lower, upper, depth, still))

    def _node(self, bound: float, lower: Floats, upper: Floats, depth: int, still: NDArray[np.int64]) -> _Node:
        self.number += 1
        return _Node((-bound, self.number), lower, upper, depth, still)

    def _relaxed(self, node: _Node) -> tuple[float, Floats, Floats] | None:
        """The relaxation at the largest open budget, sharpened; None when the node closes."""
        tree = self.tree
        top = float(self.budgets[node.open[-1]])
        tree.set_budget(self.row, top)
        self.high[self.row] = top
        rounds = ROOT_ROUNDS if node.depth == 0 else (NODE_ROUNDS if node.depth < CUT_DEPTH else 0)
        found = self._solve(node.lower, node.upper)
        while found is not None and rounds > 0:
            before, rounds = found[0], rounds - 1
            # cuts stay while other nodes ask for larger budgets, so they are made at the largest
            high = np.concatenate([self.limits, self.high[tree.limits :]])
            if not tree.sharpen(found[1], high, self.upper, self.limits.copy()):
                break
            found = self._solve(node.lower, node.upper)
            if found is not None and before - found[0] < 0.02 * max(1.0, before - float(self.best[node.open].min())):
                break
        return found

    def _solve(self, lower: Floats, upper: Floats) -> tuple[float, Floats, Floats] | None:
        self.left -= 1
        return self.tree.relax(lower, upper)

    def _visit(self, node: _Node) -> _Node | None:
        """Bound, close, fix and branch; the child to look at next, if any."""
        while True:
            node.open = self._improvable(-node.priority[0], 0.0, node.open)
            if not len(node.open):
                return None
            found = self._relaxed(node)
            if found is None:
                return None
            value, at, prices = found
            price = self.tree.price(self.row)
            top = int(self.budgets[node.open[-1]])
            still = self._improvable(value, price, node.open)
            if not len(still):
                return None
            far = np.abs(at - np.rint(at))
            if far.max() >= WHOLE and node.depth == 0:
                self._dive(node, at, still)
                still = self._improvable(value, price, still)
                if not len(still):
                    return None
            if far.max() >= WHOLE:
                if node.depth < FILL_DEPTH or node.priority[1] % FILL_EVERY == 0:
                    self._fill(at, still)
                return self._branch(node, value, price, at, prices, far, still)
            values = np.rint(at)
            if not self._sound(values):
                self._give_up(value, still)
                return None
            self.offer(values)
            used = float((self.tree.table.rows[[self.row]] @ values)[0])
            node.open = self._improvable(value, price, still[self.budgets[still] < min(used, top)])
            node.priority = (-value, node.priority[1])
            if not len(node.open):
                return None

    def _dive(self, node: _Node, at: Floats, still: NDArray[np.int64]) -> None:
        """Round one fractional pack after the other, most nearly whole first, making whole answers on the way."""
        if self.tree.fill is None or self.left <= MOST_DIVES:
            return
        lower, upper, turned = node.lower.copy(), node.upper.copy(), False
        for _ in range(MOST_DIVES):
            self._fill(at, still)
            part = np.where(self.tree.first, at - np.floor(at), 0.0)
            part[(part < WHOLE) | (part > 1.0 - WHOLE)] = 0.0
            if not part.any() or self.left <= MOST_DIVES:
                break
            column = int(np.argmax(part))
            before = lower[column], upper[column]
            lower[column] = np.ceil(at[column])
            found = self._solve(lower.copy(), upper.copy())
            if found is None or found[0] < self.best[still].min() + 1:
                if turned:
                    break
                lower[column], upper[column] = before[0], np.floor(at[column])
                found, turned = self._solve(lower.copy(), upper.copy()), True
                if found is None:
                    break
            at = found[1]

    def _fill(self, at: Floats, still: NDArray[np.int64]) -> None:
        """Whole answers from a fractional one, at the largest and the smallest budget still open."""
        if self.tree.fill is None:
            return
        limits, prices = self.limits.copy(), self.tree.prices()
        for k in {int(still[-1]), int(still[len(still) // 2]), int(still[0])}:
            limits[self.row] = float(self.budgets[k])
            values = self.tree.fill(at, limits, prices, self.bounds[1])
            if values is not None:
                self.offer(values)

    def _improvable(self, value: float, price: float, still: NDArray[np.int64]) -> NDArray[np.int64]:
        """Budgets that a bound at the largest of them leaves open to a better answer."""
        if not len(still) or np.isinf(value):
            return still
        bound = value + price * (self.budgets[still] - self.budgets[still[-1]])
        return still[bound >= self.best[still] + 1 - SURE]

    def _sound(self, values: Floats) -> bool:
        """Whether whole numbers keep every row (they do unless the relaxation was shaky)."""
        table = self.tree.table
        got = table.rows @ values
        high = self.high
        return bool((got <= high + 1e-6).all() and (got >= table.lower_rows - 1e-6).all())

    # ------------------------------------------------------------------- branching
    def _branch(
        self,
        node: _Node,
        value: float,
        price: float,
        at: Floats,
        prices: Floats,
        far: Floats,
        still: NDArray[np.int64],
    ) -> _Node | None:
        bound = value + price * (self.budgets[still] - self.budgets[still[-1]])
        gap = float((bound - self.best[still] - 1).max()) + SURE
        lower, upper = node.lower.copy(), node.upper.copy()
        down, up = (prices < -gap) & (at < lower + WHOLE), (prices > gap) & (at > upper - WHOLE)
        upper[down], lower[up] = lower[down], upper[up]
        column = self._pick(value, at, far, lower, upper)
        floor = np.floor(at[column])
        below, above = upper.copy(), lower.copy()
        below[column], above[column] = floor, floor + 1.0
        part = at[column] - floor
        guess = self._guess(column, part)
        low = self._node(value, lower, below, node.depth + 1, still)
        high = self._node(value, above, upper, node.depth + 1, still)
        first, second = (high, low) if guess[1] <= guess[0] else (low, high)
        heapq.heappush(self.heap, second)
        return first

    def _pick(self, value: float, at: Floats, far: Floats, lower: Floats, upper: Floats) -> int:
        """The variable whose branches are expected to cost most; those never tried are tried first."""
        tree = self.tree
        several = np.flatnonzero((far >= WHOLE) & tree.first)
        if not len(several):
            several = np.flatnonzero(far >= WHOLE)
            several = several[np.argsort(-far[several] * (1.0 + tree.table.objective[several]), kind="stable")[:8]]
        for column in several[np.argsort(-far[several], kind="stable")[:MOST_TRIED]].tolist():
            if tree.tries[:, column].min() < 1 and self.left > 20:
                self._try(column, value, at, lower, upper)
        part = at[several] - np.floor(at[several])
        costs = tree.costs[:, several] / np.maximum(tree.tries[:, several], 1.0)
        score = np.maximum(costs[0] * part, 1e-3) * np.maximum(costs[1] * (1.0 - part), 1e-3)
        return int(several[int(np.argmax(score))])

    def _guess(self, column: int, part: float) -> tuple[float, float]:
        tree = self.tree
        cost = tree.costs[:, column] / np.maximum(tree.tries[:, column], 1.0)
        return float(cost[0] * part), float(cost[1] * (1.0 - part))

    def _try(self, column: int, value: float, at: Floats, lower: Floats, upper: Floats) -> None:
        """What each branch of a variable costs per unit, from one relaxation each."""
        floor = np.floor(at[column])
        for side in (0, 1):
            low, high = lower, upper
            if side == 0:
                high = upper.copy()
                high[column] = floor
            else:
                low = lower.copy()
                low[column] = floor + 1.0
            found = self._solve(low, high)
            step = at[column] - floor if side == 0 else floor + 1.0 - at[column]
            cost = (value - found[0]) / max(step, 1e-6) if found is not None else value
            self.tree.costs[side, column] += max(cost, 0.0)
            self.tree.tries[side, column] += 1
