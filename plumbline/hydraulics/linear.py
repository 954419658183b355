"""One Newton step of a network: a linear system with a fixed pattern, solved dense when small and sparse when large.

With A the links' ends (tail +1, head −1), D the slopes of the losses, S the nodes' storage, M and F the residuals of mass
(out − in + draw + stored) and of energy (H[tail] − H[head] − loss), the step satisfies

    S dH + A dQ = −M,        Aᵀ dH − D dQ = −F

Links whose slope can be divided by are eliminated, dQ = D⁻¹(Aᵀ dH + F), and the others (c) stay:

    [ S + A D⁻¹ Aᵀ   A_c   ] [ dH  ]   [ −M − A D⁻¹ F ]
    [ B_cᵀ           −D_cc ] [ dQc ] = [ −F_c         ]

B is A but where a link does not feel the head beyond it, since the water falls: there it is the tail alone.

Reference: Todini and Pilati (1988), "A gradient algorithm for the analysis of pipe networks", in Computer
Applications in Water Supply, vol. 1 (from memory).
"""

from __future__ import annotations

from time import perf_counter
from typing import Any

import numpy as np

from .network import BoolArray, FloatArray, IntArray, Network

__all__ = ["DENSE_LIMIT", "SingularStep", "StepSolver", "balance", "inflow", "outflow", "rounding"]

DENSE_LIMIT = 200
"""Largest number of unknowns that are solved for as a full matrix, without loading scipy."""


class SingularStep(Exception):  # noqa: N818 - caught and told in plain words by the solver
    """The step's matrix has no inverse."""


def outflow(network: Network, flows: FloatArray) -> FloatArray:
    """Add up what leaves each node through the links [m³/s].

    Parameters:
        flows: (m,) [m³/s].

    Returns:
        (n,) Σ flows whose tail is the node − Σ flows whose head is the node.
    """
    n = len(network.draw)
    out = np.bincount(network.tail, weights=flows, minlength=n)
    return np.asarray(out - np.bincount(network.head, weights=flows, minlength=n), dtype=np.float64)


def inflow(network: Network, flows: FloatArray) -> FloatArray:
    """Add up what comes to each node (n,) through the links, whatever leaves it [m³/s]."""
    n = len(network.draw)
    into = np.bincount(network.head, weights=np.maximum(flows, 0.0), minlength=n)
    return np.asarray(into + np.bincount(network.tail, weights=np.maximum(-flows, 0.0), minlength=n), dtype=np.float64)


def balance(network: Network, heads: FloatArray, flows: FloatArray) -> FloatArray:
    """What each node's water balance (n,) lacks [m³/s]: out − in + draw + what is stored there.

    Parameters:
        heads: (n,) [m], above the same datum as the network's `stored`.
        flows: (m,) [m³/s].
    """
    lacking = outflow(network, flows) + network.draw
    stores = np.flatnonzero(network.storage)
    lacking[stores] += network.storage[stores] * (heads[stores] - network.stored[stores])
    return lacking


def rounding(network: Network, heads: FloatArray) -> float:
    """How far the balances may be out since levels are rounded numbers [m³/s].

    Parameters:
        heads: (n,) [m].
    """
    if not network.storage.any():
        return 0.0
    return 1e-15 * float(np.max(network.storage * (np.abs(heads) + np.abs(network.stored))))


class StepSolver:
    """Finds Newton steps on one set of open links and unknown heads.

    Parameters:
        open_links: (m,) True where a link takes part; the others' flows do not change.
        unknown: (n,) True where a head is to be found and the water must balance.
        keeps: (m,) True where the flow stays an unknown.
        head_scale, flow_scale: sizes of a head [m] and a flow [m³/s], which make the system dimensionless.
    """

    def __init__(
        self,
        network: Network,
        open_links: BoolArray,
        unknown: BoolArray,
        keeps: BoolArray,
        head_scale: float,
        flow_scale: float,
    ) -> None:
        self.network = network
        self.unknown = unknown
        self.gone = np.flatnonzero(open_links & ~keeps)
        self.kept = np.flatnonzero(open_links & keeps)
        self.head_scale, self.flow_scale = head_scale, flow_scale
        self.factor_seconds = 0.0
        heads = int(np.count_nonzero(unknown))
        self.size = heads + len(self.kept)
        self._rows, self._cols, self._signs, self._source = self._entries(heads)
        self._symmetric = not len(self.kept)
        self._dense = self.size <= DENSE_LIMIT
        self._row_order = self._col_order = np.arange(self.size)
        self._ordered = False
        self._slopes = np.ones(len(self.gone))
        self._matrix: Any = None
        self._slot = np.zeros(0, dtype=np.int64)
        self._factor: Any = None
        if not self._dense:
            self._lay_out()

    @property
    def definite(self) -> bool:
        """True when the matrix is symmetric and positive definite whatever the flows."""
        return self._symmetric

    def step(
        self, slope: FloatArray, tee: FloatArray, mass: FloatArray, energy: FloatArray, feels: FloatArray | None = None
    ) -> tuple[FloatArray, FloatArray]:
        """Fill in, factorise and solve.

        Parameters:
            slope: (m,) [s/m²].
            tee: (t, 3, 3) [s/m²], see `Losses`.
            mass: (n,) M [m³/s].
            energy: (m,) F [m].
            feels: (m,) 1 where a link feels the head beyond it, else 0; all do where it is left out.

        Returns:
            (dH (n,) [m], dQ (m,) [m³/s]).

        Raises:
            SingularStep
        """
        ratio = self.flow_scale / self.head_scale
        self._slopes = slope[self.gone]
        feels = np.ones(len(slope)) if feels is None else feels
        base = np.concatenate(
            [
                1.0 / (self._slopes * ratio),
                [1.0],
                slope * ratio,
                tee.ravel() * ratio,
                feels,
                self.network.storage / ratio,
            ]
        )
        values = self._signs * base[self._source]
        if self._dense:
            flat = np.bincount(self._rows * self.size + self._cols, weights=values, minlength=self.size**2)
            self._matrix = flat.reshape(self.size, self.size)
        else:
            self._matrix.data = np.bincount(self._slot, weights=values, minlength=self._matrix.nnz)
            self._factorise()
        return self.again(mass, energy)

    def again(self, mass: FloatArray, energy: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Solve for other residuals with the last step's matrix; otherwise as `step`."""
        network = self.network
        by_energy = np.zeros(len(network.tail))
        by_energy[self.gone] = energy[self.gone] / self._slopes
        right = np.concatenate(
            [
                -(mass + outflow(network, by_energy))[self.unknown] / self.flow_scale,
                -energy[self.kept] / self.head_scale,
            ]
        )
        x = self._solve(right)
        if not np.all(np.isfinite(x)):
            raise SingularStep
        heads = len(right) - len(self.kept)
        d_head = np.zeros(len(self.unknown))
        d_head[self.unknown] = x[:heads] * self.head_scale
        d_flow = np.zeros(len(network.tail))
        drop = d_head[network.tail] - d_head[network.head]
        d_flow[self.gone] = drop[self.gone] / self._slopes + by_energy[self.gone]
        d_flow[self.kept] = x[heads:] * self.flow_scale
        return d_head, d_flow

    def doubtful(self) -> bool:
        """Tell whether the last matrix is so near to singular that the flows it answers mean nothing.

        A known vector is multiplied by the matrix and solved for again. Its entries are of a size with what they stand for, by
        the matrix's columns. Flows alone are compared: heads along a wide pipe differ by next to nothing, and those in a dry pipe that
        water falls away from hang on nothing, and the flows are no less known for either. A loop whose flow is free has a link
        that is kept, since losses that can be divided by rise with the flow.
        """
        if not len(self.kept):
            return False
        columns = abs(self._matrix).max(axis=0)
        most = np.asarray(columns) if self._dense else np.asarray(columns.toarray()).ravel()[self._col_order]
        most = np.where(most > 0.0, most, 1.0)
        x = np.cos(np.arange(self.size) * 1.7) / most
        product = self._matrix @ (x if self._dense else x[np.argsort(self._col_order)])
        try:
            back = self._solve(product if self._dense else product[self._row_order])
        except SingularStep:
            return True
        flows = slice(self.size - len(self.kept), None)
        return not float(np.max(np.abs(back - x)[flows] * most[flows])) < 1e-2

    def _entries(self, heads: int) -> tuple[IntArray, IntArray, FloatArray, IntArray]:
        """Rows, columns, signs and places in the list of values of all entries, in triplet form."""
        network, m = self.network, len(self.network.tail)
        row_of = np.full(len(self.unknown), -1)
        row_of[self.unknown] = np.arange(heads)
        place = np.full(m, -1)
        place[self.kept] = heads + np.arange(len(self.kept))
        gone, kept = self.gone, self.kept
        one, slopes = len(gone), len(gone) + 1
        parts: list[tuple[IntArray, IntArray, float, IntArray]] = []
        for mass_node, mass_sign in ((network.tail, 1.0), (network.head, -1.0)):
            for node, sign in ((network.tail, 1.0), (network.head, -1.0)):
                where = np.arange(len(gone))
                parts.append((row_of[mass_node[gone]], row_of[node[gone]], mass_sign * sign, where))
            parts.append((row_of[mass_node[kept]], place[kept], mass_sign, np.full(len(kept), one)))
        feels = slopes + m + 9 * len(network.tee_link)
        parts.append((place[kept], row_of[network.tail[kept]], 1.0, np.full(len(kept), one)))
        parts.append((place[kept], row_of[network.head[kept]], -1.0, feels + kept))
        stores = np.flatnonzero(self.unknown & (network.storage > 0.0))
        parts.append((row_of[stores], row_of[stores], 1.0, feels + m + stores))
        parts.append((place[kept], place[kept], -1.0, slopes + kept))
        legs = place[network.tee_link].reshape(-1, 3)
        tee_rows = np.broadcast_to(legs[:, :, None], (len(legs), 3, 3)).ravel()
        tee_cols = np.broadcast_to(legs[:, None, :], (len(legs), 3, 3)).ravel()
        parts.append((tee_rows, tee_cols, -1.0, slopes + m + np.arange(9 * len(legs))))
        rows, cols = np.concatenate([p[0] for p in parts]), np.concatenate([p[1] for p in parts])
        signs = np.concatenate([np.full(len(p[0]), p[2]) for p in parts])
        source = np.concatenate([p[3] for p in parts])
        inside = (rows >= 0) & (cols >= 0)
        return rows[inside], cols[inside], signs[inside], source[inside]

    def _lay_out(self) -> None:
        """Build the compressed matrix, in the present order, and the map from triplets to its places."""
        from scipy.sparse import csc_matrix

        if self._ordered:
            cols = np.repeat(np.arange(self.size), np.diff(self._matrix.indptr))
            keys = self._col_order[cols] * self.size + self._row_order[self._matrix.indices]
            order = np.argsort(keys)
            keys, place = keys[order], np.empty(len(order), dtype=np.int64)
            place[order] = np.arange(len(order))
            self._slot = place[self._slot]
        else:
            keys = self._cols * self.size + self._rows
            order = np.argsort(keys)
            keys = keys[order]
            fresh = np.concatenate([[True], keys[1:] != keys[:-1]])
            self._slot = np.empty(len(order), dtype=np.int64)
            self._slot[order] = np.cumsum(fresh) - 1
            keys = keys[fresh]
        starts = np.searchsorted(keys, np.arange(self.size + 1) * self.size).astype(np.int32)
        indices = (keys % self.size).astype(np.int32)
        self._matrix = csc_matrix((np.zeros(len(keys)), indices, starts), shape=(self.size, self.size))

    def _factorise(self) -> None:
        from scipy.sparse.linalg import splu

        begun = perf_counter()
        try:
            if self._symmetric:
                self._factor = splu(
                    self._matrix,
                    permc_spec="NATURAL" if self._ordered else "MMD_AT_PLUS_A",
                    diag_pivot_thresh=0.0,
                    options={"SymmetricMode": True},
                )
            else:
                self._factor = splu(self._matrix, permc_spec="NATURAL" if self._ordered else "COLAMD")
        except RuntimeError as error:
            raise SingularStep from error
        finally:
            self.factor_seconds += perf_counter() - begun

    def _solve(self, right: FloatArray) -> FloatArray:
        if not self._dense:
            moved = np.empty_like(right)
            moved[self._row_order] = right
            return np.asarray(self._factor.solve(moved)[self._col_order])
        begun = perf_counter()
        try:
            return np.linalg.solve(self._matrix, right)
        except np.linalg.LinAlgError as error:
            raise SingularStep from error
        finally:
            self.factor_seconds += perf_counter() - begun

    def reorder(self) -> None:
        """Keep the fill-reducing order of the factorisation just made for all later ones."""
        if self._dense or self._ordered or self._factor is None:
            return
        self._col_order = np.asarray(self._factor.perm_c, dtype=np.int64)
        if self._symmetric:
            self._row_order = self._col_order
        self._ordered = True
        self._lay_out()
