"""What a round of the coupling starts from, and how the next one is chosen from what came out.

Temperatures follow at once. Vapour is carried as x = ln(1 + V/L), at the pump's inlet and as the mean of each link, and
each x takes a secant step of its own (Aitken's process): a pump that sucks vapour answers its own suction with a gain
of about five one way (less flow, less suction loss), fuel that creeps through a hot suction line answers the other way,
so that following it would swing or creep.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

__all__ = ["Answer", "Guess"]

TEMPERATURE_TOLERANCE = 1e-3
"""K between two rounds."""
VAPOUR_TOLERANCE = 1e-4
"""Error of ln(1 + V/L)."""
MOST_VAPOUR = 5.7
"""Greatest ln(1 + V/L) carried along: petrol that has boiled away fills about 300 times its liquid volume."""
_LEAST_PACE, _MOST_PACE = 0.05, 2.0
"""Bounds of the secant step, as a share of the way to the answer."""
_PATIENCE = 12
"""Rounds of plain secants."""


@dataclass(frozen=True)
class Answer:
    """What one round found; every array is (points,) or (rows, points).

    Attributes
    ----------
    nodes, outlets : dict of str to array
        Temperature at nodes and at the ends of links, K.
    vapour : array (1 + links, points)
        x at the pump's inlet, then in each link.
    """

    nodes: dict[str, Any]
    outlets: dict[str, Any]
    vapour: Any


@dataclass(frozen=True)
class Guess:
    """Temperatures and vapour from which a round starts.

    Attributes
    ----------
    nodes, outlets : dict of str to array (points,)
        As in `Answer`.
    vapour : array (1 + links, points)
        x at the pump's inlet, then in each link.
    pace : array (1 + links, points)
        Share of the way to its answer that each x went.
    missed : array (1 + links, points)
        The way it had to go in the round before.
    rounds : int
        How many rounds went before.
    """

    nodes: dict[str, Any]
    outlets: dict[str, Any]
    vapour: Any
    pace: Any
    missed: Any
    rounds: int = 0

    @classmethod
    def cold(cls, nodes: list[str], links: list[str], temperature: Any) -> Guess:
        """Return the guess without vapour, everything at the tank's temperature (K, (points,))."""
        rows = (1 + len(links), len(temperature))
        return cls(
            nodes=dict.fromkeys(nodes, temperature),
            outlets=dict.fromkeys(links, temperature),
            vapour=np.zeros(rows),
            pace=np.ones(rows),
            missed=np.full(rows, np.nan),
        )

    @property
    def inlet_vapour(self) -> Any:
        """x at the pump's inlet, (points,)."""
        return self.vapour[0]

    @property
    def link_vapour(self) -> Any:
        """x in each link, (links, points)."""
        return self.vapour[1:]

    def agrees(self, answer: Answer) -> Any:
        """Return whether the answer stands where the guess stood, per point."""
        missed = np.abs(answer.vapour - self.vapour).max(axis=0)
        change = np.max([np.abs(answer.outlets[name] - before) for name, before in self.outlets.items()], axis=0)
        return (missed < VAPOUR_TOLERANCE) & (change < TEMPERATURE_TOLERANCE)

    def moved(self, answer: Answer) -> Guess:
        """Return the next guess."""
        missed = answer.vapour - self.vapour
        with np.errstate(divide="ignore", invalid="ignore"):
            secant = self.pace * self.missed / (self.missed - missed)
        # An error that grows on the way it is followed asks for longer steps, not for a step back.
        secant = np.where(secant > 0.0, np.clip(secant, _LEAST_PACE, _MOST_PACE), _MOST_PACE)
        small = np.abs(missed) < 0.1 * VAPOUR_TOLERANCE
        pace = np.where(np.isfinite(self.missed) & ~small, secant, 1.0)
        if self.rounds >= _PATIENCE:
            # Secants of several x at once can chase one another: shorten the pace where an error swings, and let it
            # grow but slowly where it does not.
            swings = missed * self.missed < 0.0
            pace = np.where(swings, np.minimum(pace, 0.6 * self.pace), np.minimum(1.25 * self.pace, _MOST_PACE))
        vapour = np.clip(self.vapour + pace * missed, 0.0, MOST_VAPOUR)
        return Guess(answer.nodes, answer.outlets, vapour, pace, missed, self.rounds + 1)

    def take(self, index: Any) -> Guess:
        """Return the guess of some points only."""
        return Guess(
            {name: value[index] for name, value in self.nodes.items()},
            {name: value[index] for name, value in self.outlets.items()},
            self.vapour[:, index],
            self.pace[:, index],
            self.missed[:, index],
            self.rounds,
        )
