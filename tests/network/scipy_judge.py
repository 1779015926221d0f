"""scipy's Levenberg-Marquardt method from random starts, as a judge of whether a network can be solved within ratings.

It knows nothing of the solver: all flows and all pressures are unknown, every link has its own equation and every node
its own balance. Pressures are unknown in 100 kPa, flows through the inverse hyperbolic sine of their value in 1e-3 L/h,
so that both the leak of a shut valve and a full flow are of order one. The hybrid method solves a tenth of what this
method does from as many starts.
"""

from __future__ import annotations

import warnings
from typing import Any

import numpy as np
from plumbing import ATMOSPHERE, GRAVITY, L_H
from scipy.optimize import root
from wide_networks import WideNetwork

from fuelsim.laws.link import LinkLaw
from fuelsim.network.network import Network

STARTS = 20
_OPTIONS = {"maxiter": 200, "xtol": 1e-13, "ftol": 1e-13}
_FLOW_UNIT = 1e-3 * L_H
_PRESSURE_UNIT = 1e5
_POLISHING_STEPS = 30
_POLISHED = 1e-7
"""Correction of a flow, over the largest, at which scipy's solution counts as polished."""


class ScipyJudge:
    """The equations of one network at one operating point.

    Parameters
    ----------
    made : WideNetwork
    net : Network
        With single values in all its parts.
    draws : dict of str to float
        m3/s.
    """

    def __init__(self, made: WideNetwork, net: Network, draws: dict[str, float]) -> None:
        links, nodes = list(net.links.values()), list(net.nodes)
        names = [*nodes, *net.reservoirs, ""]
        row = {name: number for number, name in enumerate(names)}
        heights = [element.height for elements in (net.nodes, net.reservoirs) for element in elements.values()]
        self.links, self.nodes = len(links), len(nodes)
        self._fixed = np.array([*(float(reservoir.pressure) for reservoir in net.reservoirs.values()), ATMOSPHERE])
        self._draw = np.array([draws.get(name, 0.0) for name in nodes])
        self._largest = max(*draws.values(), L_H)
        self._up, self._down = (np.array([row[getattr(link, end)] for link in links]) for end in ("up", "down"))
        self._reference = np.array([row[link.reference or ""] for link in links])
        self._head = np.array(
            [made.liquid.density * GRAVITY * (heights[row[link.up]] - heights[row[link.down]]) for link in links]
        )[:, None]
        self._groups = [
            (law, np.array([number for number, link in enumerate(links) if link.part.law is law]), coefficients)
            for law, coefficients in _grouped(made, net).items()
        ]
        self._balance = np.zeros((len(names), self.links))
        self._balance[self._down, range(self.links)] += 1.0
        self._balance[self._up, range(self.links)] -= 1.0

    def _unpack(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Flows, m3/s, and pressures of all nodes, reservoirs and the atmosphere, Pa."""
        flow = np.sinh(np.clip(x[: self.links], -40.0, 40.0)) * _FLOW_UNIT
        return flow, np.concatenate([x[self.links :] * _PRESSURE_UNIT, self._fixed])

    def _evaluate(self, flow: np.ndarray, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Residual of each link, Pa, and its slopes in its flow and its three pressures, (links, 4)."""
        residual, slopes = np.empty(self.links), np.zeros((self.links, 4))
        for law, of, coefficients in self._groups:
            q, head = flow[of, None], self._head[of]
            p_up, p_down, p_reference = (pressure[rows[of], None] for rows in (self._up, self._down, self._reference))
            if law.loss is not None:
                loss, slope = law.loss(q, coefficients)
                residual[of] = (loss - (p_up - p_down + head))[:, 0]
                values: tuple[Any, ...] = (slope, 1.0, 1.0, 0.0)
            else:
                ends = (p_up, p_down - head) if law.head_applied_at == "down" else (p_up + head, p_down)
                equation = law.equation(q, *ends, p_reference, coefficients)
                residual[of] = equation.residual[:, 0]
                values = (equation.flow_slope, equation.up_slope, equation.down_slope, equation.reference_slope)
            for column, (value, sign) in enumerate(zip(values, (1.0, -1.0, 1.0, 1.0), strict=True)):
                slopes[of, column] = sign * np.broadcast_to(value, q.shape)[:, 0]
        return residual, slopes

    def _residuals(self, x: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Scaled residuals of links and nodes, and their Jacobian."""
        flow, pressure = self._unpack(x)
        residual, slopes = self._evaluate(flow, pressure)
        jacobian = np.zeros((x.size, x.size))
        rows = np.arange(self.links)
        scale = 1e-3 / np.sqrt(1.0 + (residual / 1e3) ** 2)
        by_flow = np.cosh(np.clip(x[: self.links], -40.0, 40.0)) * _FLOW_UNIT
        jacobian[rows, rows] = slopes[:, 0] * by_flow * scale
        for column, ends in enumerate((self._up, self._down, self._reference), 1):
            free = ends < self.nodes
            jacobian[rows[free], self.links + ends[free]] += (slopes[:, column] * _PRESSURE_UNIT * scale)[free]
        balance = self._balance[: self.nodes]
        jacobian[self.links :, : self.links] = balance * by_flow / L_H
        return np.concatenate([np.arcsinh(residual / 1e3), (balance @ flow - self._draw) / L_H]), jacobian

    def _polished(self, flow: np.ndarray, pressure: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Flows and pressures after Newton steps from what scipy ends at, or these if the steps do not converge.

        What scipy leaves, some Pa at a link, is up to a whole flow through a short wide line.
        """
        free, x = self.nodes, np.concatenate([flow, pressure])
        for _ in range(_POLISHING_STEPS):
            residual, slopes = self._evaluate(x[: self.links], x[self.links :])
            correction = residual / slopes[:, 0]
            imbalance = self._balance[:free] @ x[: self.links] - self._draw
            most = max(np.abs(x[: self.links]).max(), self._largest)
            if max(np.abs(correction).max(), np.abs(imbalance).max()) < _POLISHED * most:
                return x[: self.links], x[self.links :]
            matrix = np.zeros((self.links + free, self.links + free))
            matrix[: self.links, : self.links] = np.eye(self.links)
            rows = np.arange(self.links)
            for column, ends in enumerate((self._up, self._down, self._reference), 1):
                own = ends < free
                matrix[rows[own], self.links + ends[own]] += (slopes[:, column] / slopes[:, 0])[own] * _PRESSURE_UNIT
            matrix[: self.links, self.links :] /= L_H
            matrix[self.links :, : self.links] = self._balance[:free]
            try:
                step = np.linalg.solve(matrix, -np.concatenate([correction, imbalance]) / L_H)
            except np.linalg.LinAlgError:
                break
            x[: self.links] += step[: self.links] * L_H
            x[self.links : self.links + free] += step[self.links :] * _PRESSURE_UNIT
        return flow, pressure

    def solution(self, random: np.random.Generator) -> np.ndarray | None:
        """Flows of a solution within ratings, (links,), m3/s, from any of the starts; None if there is none."""
        for _ in range(STARTS):
            flow = random.uniform(-1.0, 1.0, self.links) * self._largest
            start = np.concatenate([np.arcsinh(flow / _FLOW_UNIT), random.uniform(0.5, 6.0, self.nodes)])
            with warnings.catch_warnings(), np.errstate(all="ignore"):
                warnings.simplefilter("ignore")
                x = root(self._residuals, start, jac=True, method="lm", options=_OPTIONS).x
                flow, pressure = self._polished(*self._unpack(x))
                residual, _ = self._evaluate(flow, pressure)
            off_balance = np.abs(self._balance[: self.nodes] @ flow - self._draw)
            if np.all(np.abs(residual) < 10.0) and np.all(off_balance < 1e-5 * self._largest) and pressure.min() >= 0.0:
                return flow
        return None


def _grouped(made: WideNetwork, net: Network) -> dict[LinkLaw, Any]:
    """Coefficients of all links of each law, tables (rows, links, 1), others (links, 1)."""
    of_law: dict[LinkLaw, list[Any]] = {}
    for link in net.links.values():
        of_law.setdefault(link.part.law, []).append(link.part.coefficients(made.liquid))
    grouped = {}
    for law, own in of_law.items():
        aligned = law.align(own) if law.align is not None and len(own) > 1 else own
        grouped[law] = law.coefficients._make(
            np.stack([np.ravel(value) for value in column], axis=1)[:, :, None]
            if key in law.tables
            else np.array([float(np.ravel(value)[0]) for value in column])[:, None]
            for key, column in zip(law.coefficients._fields, zip(*aligned, strict=True), strict=True)
        )
    return grouped
