"""Node volts and transfer resistances of a resistive network, for many sampled trucks at once.

The network is a list of branches: a conductance between two named nodes, with a current source beside it where the
branch is a source (Norton). Nothing here knows of trucks, connectors or meters.

Nodal analysis by elimination, one node after another. A node taken out leaves a mesh between its neighbours (the
star-mesh transform: Rosen, "A new network theorem", Journal of the IEE 62, 1924), which is Gauss elimination of the
nodal matrix written so that every step only adds and multiplies positive numbers: nothing cancels, and conductances
from 1e-12 to 1e6 siemens live in one network. The order is found once per wiring (least neighbours first), then each
step is one numpy operation over all trucks; the reference node is simply the one never taken out. Compared with
`numpy.linalg.inv` on a stack of dense matrices this is some fifteen times faster for a truck of 80 nodes.

Everything a meter or a driver can ask of a linear network is in two things: the volts of every node, and the
transfer resistance between two nodes (volts at one for an ampere put in at the other).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

__all__ = ["INSULATION_SIEMENS", "REFERENCE", "Branch", "Network"]

Array = npt.NDArray[np.float64]

REFERENCE = "chassis"
# What holds a node that nothing else holds: a wire's insulation. Far above any meter's 10 Mohm, so readings ignore it.
INSULATION_SIEMENS = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class Branch:
    """A conductance between two nodes.

    Attributes:
        a, b: names of the nodes.
        siemens: float64[B]; zero where the truck has no such branch.
        amps: what a source beside it puts into `a` and takes out of `b`, float64[B]; 0 for a plain resistance. A source
            of v volts behind it puts in siemens * v.

    """

    a: str
    b: str
    siemens: Array
    amps: Array | float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class _Step:
    """Taking out one node: where its neighbours' conductances are, and where the mesh it leaves goes."""

    spokes: npt.NDArray[np.intp]  # rows of the conductance table: this node to each later neighbour, reference last
    neighbours: npt.NDArray[np.intp]  # the same neighbours as places in the order, without the reference
    first: npt.NDArray[np.intp]  # pairs of spokes ...
    second: npt.NDArray[np.intp]
    mesh: npt.NDArray[np.intp]  # ... and the row of the conductance between their far ends


@dataclass(frozen=True, slots=True, eq=False)
class _Plan:
    """The order of elimination of one wiring."""

    order: tuple[str, ...]
    place: dict[str, int]  # node to its place in the order
    rows: dict[tuple[int, int], int]  # two places (lower first) to a row of the conductance table
    steps: tuple[_Step, ...]
    depth: tuple[int, ...]  # how many nodes come after this one on its way to the root


@lru_cache(maxsize=512)
def _plan(pairs: frozenset[tuple[str, str]]) -> _Plan:
    """Order the nodes by least neighbours and write down every step."""
    around: dict[str, set[str]] = {}
    for a, b in sorted(pairs):
        for node, other in ((a, b), (b, a)):
            around.setdefault(node, set())
            if other != REFERENCE:
                around[node].add(other)
    around.pop(REFERENCE, None)
    order: list[str] = []
    later: dict[str, list[str]] = {}
    while around:
        node = min(around, key=lambda name: (len(around[name]), name))
        ring = around.pop(node)
        for other in ring:
            around[other] = (around[other] | ring) - {node, other}
        order.append(node)
        later[node] = sorted(ring)
    place = {node: k for k, node in enumerate(order)}
    root = len(order)  # the place of the reference
    rows: dict[tuple[int, int], int] = {}

    def row(i: int, j: int) -> int:
        return rows.setdefault((min(i, j), max(i, j)), len(rows))

    steps, depth = [], [0] * root
    for k, node in enumerate(order):
        ends = [*sorted(place[other] for other in later[node]), root]
        couples = [(i, j) for i in range(len(ends)) for j in range(i + 1, len(ends))]
        steps.append(
            _Step(
                np.array([row(k, end) for end in ends]),
                np.array(ends[:-1], np.intp),
                np.array([i for i, _ in couples], np.intp),
                np.array([j for _, j in couples], np.intp),
                np.array([row(ends[i], ends[j]) for i, j in couples], np.intp),
            )
        )
    for k in reversed(range(root)):
        parents = steps[k].neighbours
        depth[k] = 1 + depth[parents[0]] if len(parents) else 0
    return _Plan(tuple(order), place, rows, tuple(steps), tuple(depth))


@lru_cache(maxsize=65536)
def _shared(plan: _Plan, i: int, j: int) -> int:
    """How many nodes the ways of two places to the root have in common; they are the last ones of each way."""
    while i != j:
        low, high = (i, j) if i < j else (j, i)
        parents = plan.steps[low].neighbours
        if not len(parents):
            return 0
        i, j = int(parents[0]), high
    return plan.depth[i] + 1


class Network:
    """A network solved for every truck of a batch.

    Args:
        branches: the branches; those that conduct in no truck are left out, several between two nodes add up.
        size: trucks in the batch, B.

    """

    def __init__(self, branches: Iterable[Branch], size: int) -> None:
        live = [branch for branch in branches if branch.siemens.any()]
        self.size = size
        self._plan = _plan(frozenset((min(x.a, x.b), max(x.a, x.b)) for x in live))
        self._columns: dict[str, Array] = {}
        self._transfers: dict[tuple[str, str], Array | float] = {}
        conductance = np.zeros((len(self._plan.rows), size))
        amps = np.zeros((len(self._plan.place) + 1, size))
        place = {**self._plan.place, REFERENCE: len(self._plan.place)}
        for node in self._plan.place.values():
            conductance[self._plan.rows[node, place[REFERENCE]]] = INSULATION_SIEMENS
        for branch in live:
            i, j = place[branch.a], place[branch.b]
            conductance[self._plan.rows[min(i, j), max(i, j)]] += branch.siemens
            if isinstance(branch.amps, np.ndarray):
                amps[i] += branch.amps
                amps[j] -= branch.amps
        self._eliminate(conductance, amps)

    def _eliminate(self, conductance: Array, amps: Array) -> None:
        """Take the nodes out in order; keep each one's shares and total; then find the volts backwards."""
        self._shares: list[Array] = []
        self._root_totals: list[Array] = []  # 1 / sqrt(total conductance) of each node when it is taken out
        volts = np.zeros_like(amps[:-1])
        for k, step in enumerate(self._plan.steps):
            spokes = conductance[step.spokes]
            total = spokes.sum(axis=0)
            shares = spokes / total
            conductance[step.mesh] += shares[step.first] * spokes[step.second]
            amps[step.neighbours] += shares[:-1] * amps[k]
            volts[k] = amps[k] / total
            self._shares.append(shares)
            self._root_totals.append(1.0 / np.sqrt(total))
        for k in reversed(range(len(volts))):
            volts[k] += np.einsum("kb,kb->b", self._shares[k][:-1], volts[self._plan.steps[k].neighbours])
        self._volts = volts

    def volts(self, node: str) -> Array:
        """Volts of a node above the reference, float64[B]; zero for a node that no branch touches."""
        place = self._plan.place.get(node)
        return np.zeros(self.size) if place is None else self._volts[place]

    def _column(self, node: str) -> Array:
        """The node's column of the inverse square root of the nodal matrix: itself, then every node up to its root."""
        column = self._columns.get(node)
        if column is None:
            column = self._columns[node] = self._new_column(node)
        return column

    def _new_column(self, node: str) -> Array:
        if node == REFERENCE:
            return np.zeros((0, self.size))
        place = self._plan.place.get(node)
        if place is None:  # no branch touches it
            return np.full((1, self.size), INSULATION_SIEMENS**-0.5)
        depth = self._plan.depth[place]
        column = np.zeros((depth + 1, self.size))
        column[0] = self._root_totals[place]
        for share, neighbour in zip(self._shares[place], self._plan.steps[place].neighbours, strict=False):
            column[depth - self._plan.depth[neighbour] :] += share * self._column(self._plan.order[neighbour])
        return column

    def _shared(self, i: str, j: str) -> int:
        """How many of the last entries of two nodes' columns stand for the same nodes."""
        places = self._plan.place
        return _shared(self._plan, places[i], places[j]) if i in places and j in places else 0

    def transfer(self, i: str, j: str) -> Array | float:
        """Volts at node `i` for one ampere put in at node `j`, in ohms; float64[B], or 0 where nothing joins them."""
        key = (i, j) if i <= j else (j, i)
        value = self._transfers.get(key)
        if value is None:
            a, b = self._column(i), self._column(j)
            shared = len(a) if i == j else self._shared(i, j)
            value = np.einsum("kb,kb->b", a[len(a) - shared :], b[len(b) - shared :]) if shared else 0.0
            self._transfers[key] = value
        return value

    def between(self, red: str, black: str) -> Array:
        """Resistance between two nodes with every source at rest, in ohms; float64[B].

        As a sum of squares of the difference of their columns, which stays exact between two nodes that are close to
        each other and far from the reference.
        """
        if red == black:
            return np.zeros(self.size)
        a, b = self._column(red), self._column(black)
        shared = self._shared(red, black)
        parts = (a[: len(a) - shared], b[: len(b) - shared], a[len(a) - shared :] - b[len(b) - shared :])
        return np.asarray(sum(np.einsum("kb,kb->b", part, part) for part in parts))

    def pair_transfer(self, pair: Sequence[str], node: str) -> Array | float:
        """Volts of pair[0] above pair[1] for one ampere put in at `node`, in ohms."""
        return self.transfer(pair[0], node) - self.transfer(pair[1], node)
