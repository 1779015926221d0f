"""The fixed-point iteration of the coupling: what a round starts from, and how the next start follows.

Temperatures follow at once. Vapour is carried as x = ln(1 + V/L), at the inlet of each pump and as the mean of each
link, and each x takes a secant step of its own (Aitken's delta-squared process). The map from x to its update has a
slope of about -5 at a pump that ingests vapour, since more vapour means less flow and so less suction loss, and a slope
of the other sign in a hot suction line, where fuel that flows less is heated more. Plain iteration would oscillate at
the first and creep at the second.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fuelsim.typing import BoolArray, FloatArray, IndexArray, LinkArray, NodeArray

__all__ = ["MOST_VAPOUR", "Iterate", "Update"]

TEMPERATURE_TOLERANCE = 1e-3
"""K between two rounds."""
VAPOUR_TOLERANCE = 1e-4
"""Error of ln(1 + V/L)."""
MOST_VAPOUR = 5.7
"""Greatest ln(1 + V/L) carried along: petrol that has boiled away fills about 300 times its liquid volume."""
_LEAST_RELAXATION, _MOST_RELAXATION = 0.05, 2.0
"""Bounds of the secant step, as a share of the way to the update."""
_PLAIN_SECANT_ROUNDS = 12
"""Rounds before relaxation is damped where an error oscillates."""


@dataclass(frozen=True)
class Update:
    """What one round made of an iterate.

    Attributes
    ----------
    nodes : array (stations, points)
        Temperature as if all liquid, K.
    outlets : array (links, points)
        Temperature at the end of each link, K.
    vapour : array (pumps + links, points)
        x at the inlet of each pump, then in each link.
    """

    nodes: NodeArray
    outlets: LinkArray
    vapour: FloatArray


@dataclass(frozen=True)
class Iterate:
    """Temperatures and vapour from which a round starts.

    Attributes
    ----------
    nodes, outlets, vapour : array
        As in `Update`.
    relaxation : array (pumps + links, points)
        Share of the way to its update that each x went in the round before.
    residual : array (pumps + links, points)
        Update less iterate of each x in the round before; NaN before the first.
    rounds : int
        Rounds made so far.
    """

    nodes: NodeArray
    outlets: LinkArray
    vapour: FloatArray
    relaxation: FloatArray
    residual: FloatArray
    rounds: int = 0

    @classmethod
    def all_liquid(cls, stations: int, links: int, pumps: int, temperature: FloatArray) -> Iterate:
        """Return the iterate without vapour, everything at the tank's temperature, (points,), K."""
        points = len(temperature)
        return cls(
            nodes=np.broadcast_to(temperature, (stations, points)),
            outlets=np.broadcast_to(temperature, (links, points)),
            vapour=np.zeros((pumps + links, points)),
            relaxation=np.ones((pumps + links, points)),
            residual=np.full((pumps + links, points), np.nan),
        )

    def converged(self, update: Update) -> BoolArray:
        """Return whether the update agrees with the iterate, (points,)."""
        vapour = np.abs(update.vapour - self.vapour).max(axis=0)
        temperature = np.abs(update.outlets - self.outlets).max(axis=0)
        agrees: BoolArray = (vapour < VAPOUR_TOLERANCE) & (temperature < TEMPERATURE_TOLERANCE)
        return agrees

    def next(self, update: Update) -> Iterate:
        """Return the iterate of the next round."""
        residual = update.vapour - self.vapour
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = self.relaxation * self.residual / (self.residual - residual)
        # A residual that grows along the step asks for a longer step, not for a step back.
        secant = np.where(secant > 0.0, np.clip(secant, _LEAST_RELAXATION, _MOST_RELAXATION), _MOST_RELAXATION)
        small = np.abs(residual) < 0.1 * VAPOUR_TOLERANCE
        relaxation = np.where(np.isfinite(self.residual) & ~small, secant, 1.0)
        if self.rounds >= _PLAIN_SECANT_ROUNDS:
            # Secants of several x at once can chase one another: damp where a residual changes sign, and let the
            # relaxation grow slowly where it does not.
            oscillates = residual * self.residual < 0.0
            relaxation = np.where(
                oscillates,
                np.minimum(relaxation, 0.6 * self.relaxation),
                np.minimum(1.25 * self.relaxation, _MOST_RELAXATION),
            )
        vapour = np.clip(self.vapour + relaxation * residual, 0.0, MOST_VAPOUR)
        return Iterate(update.nodes, update.outlets, vapour, relaxation, residual, self.rounds + 1)

    def take(self, index: IndexArray) -> Iterate:
        """Return some of the points."""
        return Iterate(
            self.nodes[:, index],
            self.outlets[:, index],
            self.vapour[:, index],
            self.relaxation[:, index],
            self.residual[:, index],
            self.rounds,
        )
