"""The fixed-point iteration of the coupling: what a round starts from, and how the next start follows.

What the network makes of the vapour at a pump's inlet is in the pump's own law (`fuelsim.laws.pump_with_gas`), and at
given temperatures the mixture in what the pump draws through is brought to rest with it. Left to the iteration are the
temperatures, and these push one way only: warmer fuel means more vapour, so less flow, so warmer fuel. Iteration of
such a map from below, from all liquid, comes to its least solution and passes none: that is the state which a running
car reaches as it warms, for the map rises with every temperature around it, and the least solution therefore moves
without a jump until it ends in a fold. From above, from standing fuel, the iteration comes to the greatest solution:
the locked one, where there is one.

Near a fold a plain iteration creeps. A step is therefore lengthened along its direction by the secant of two rounds, at
each point for itself (Aitken's delta-squared process on the temperatures at the pumps' inlets); the map curves
upwards there, and a secant of such a map falls short of the solution.

Vapour in a link behind the pumps is carried as x = ln(1 + V/L), and each x takes a secant step of its own: there more
vapour means more pressure before it, so less vapour, and a plain iteration would oscillate.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from fuelsim.parts.pump.inlet_gas import InletGas
from fuelsim.typing import BoolArray, FloatArray, IndexArray, LinkArray, NodeArray, PointArray

__all__ = ["MOST_UNSETTLED", "MOST_VAPOUR", "SETTLED", "SETTLING_SHARE", "Draws", "Iterate", "Update"]

TEMPERATURE_TOLERANCE = 1e-3
"""K between two rounds, and of the lengthened step at the pumps' inlets."""
VAPOUR_TOLERANCE = 1e-4
"""Error of ln(1 + V/L), and of the logarithm of what a pump displaces."""
MOST_VAPOUR = 5.7
"""Greatest ln(1 + V/L) carried along: petrol that has boiled away fills about 300 times its liquid volume."""
_LEAST_RELAXATION, _MOST_RELAXATION = 0.05, 2.0
"""Bounds of the secant step of vapour in a link, as a share of the way to the update."""
_LEAST_STEP = 1e-4
"""Least length of a step of the temperatures, over that of a plain one."""
_LONGEST_STEP = 20.0
"""Greatest length of a step of the temperatures, over that of a plain one."""
_LONGEST_WARMING = 3.0
"""K that a lengthened step may go further than a plain one."""
_PLAIN_SECANT_ROUNDS = 30
"""Rounds before relaxation is damped where an error oscillates."""
_COLDEST, _HOTTEST = 150.0, 700.0
"""Bounds of what a step makes of a temperature as if all liquid, K: fuel that has boiled away has 500 to 600 K."""
_FREE_SWINGS = 1
"""Turns of the temperatures at the pumps' inlets after which their steps are halved at each further one."""
_PLAIN_TEMPERATURE_ROUNDS = 6
"""Rounds before the pace of a temperature that moves back and forth is halved."""
_GREATEST_RISE = 0.4
"""Greatest rise of x at once in what pumps draw through."""
SETTLED = 1e-3
"""Error of the logarithm of what a pump displaces, and of ln(1 + V/L) in what it draws through, up to which the
temperatures follow."""
SETTLING_SHARE = 0.1
"""The same per kelvin by which the temperatures at the pumps' inlets are about to move."""
MOST_UNSETTLED = 0.05
"""The same at the most."""


class Draws(NamedTuple):
    """Through what the pumps of a plumbing draw.

    Attributes
    ----------
    inlets : int array (pumps,)
        Number of the station at each pump's inlet.
    links : bool array (links,)
        Whether a pump draws through each link.
    at_inlets : bool array (stations + links, 1)
        Whether each temperature, of the stations and then at the ends of the links, is that at a pump's inlet.
    """

    inlets: IndexArray
    links: BoolArray
    at_inlets: BoolArray

    @classmethod
    def of(cls, stations: int, inlets: IndexArray, downstream: IndexArray, links: BoolArray) -> Draws:
        """Return what the pumps draw through.

        Parameters
        ----------
        stations : int
            Number of stations.
        inlets, links : array
            As the attributes.
        downstream : int array (links,)
            Number of each link's downstream station.
        """
        at_inlets = np.concatenate([np.isin(np.arange(stations), inlets), links & np.isin(downstream, inlets)])
        return cls(inlets, links, at_inlets[:, None])


@dataclass(frozen=True)
class Update:
    """What one round made of an iterate.

    Attributes
    ----------
    nodes : array (stations, points)
        Temperature as if all liquid, K.
    outlets : array (links, points)
        Temperature at the end of each link, K.
    vapour : array (links, points)
        x in each link.
    drawn_vapour : array (links, points)
        x in each link at the temperatures of the iterate; of links that a pump draws through.
    standing : bool array (links, points)
        Where fuel stands.
    displaced : array (pumps, points)
        Volume that each pump displaced per volume of liquid in the round, by the iterate's tangents.
    """

    nodes: NodeArray
    outlets: LinkArray
    vapour: LinkArray
    drawn_vapour: LinkArray
    standing: BoolArray
    displaced: FloatArray


@dataclass(frozen=True)
class Iterate:
    """Temperatures and vapour from which a round starts.

    Attributes
    ----------
    nodes, outlets, vapour, standing : array
        As in `Update`.
    gas : InletGas
        Tangents to what the pumps displace, (pumps, points).
    relaxation, residual : array (links, points)
        Share of the way to its update that each x went in the round before, and update less iterate of it there; NaN
        before the first.
    step : array (points,)
        Length of the step that the temperatures took in the round before, over that of a plain one.
    warming : array (pumps, points)
        Update less iterate of the temperatures at the pumps' inlets in the round before, K; NaN before the first.
    drift : array (stations + links, points)
        Update less iterate of every temperature in the round before, K.
    pace : array (stations + links, points)
        Share of its step that each temperature goes.
    swings : int array (points,)
        How many times the temperatures at the pumps' inlets have turned back.
    held : bool array (points,)
        Where the temperatures did not move in the round before.
    from_above : bool
        Whether the iteration comes from standing fuel to the greatest solution.
    rounds : int
        Rounds made so far.
    """

    nodes: NodeArray
    outlets: LinkArray
    vapour: LinkArray
    standing: BoolArray
    gas: InletGas
    relaxation: LinkArray
    residual: LinkArray
    step: PointArray
    warming: FloatArray
    drift: FloatArray
    pace: FloatArray
    swings: PointArray
    held: BoolArray
    from_above: bool = False
    rounds: int = 0

    @classmethod
    def of(cls, nodes: NodeArray, outlets: LinkArray, gas: InletGas, *, from_above: bool = False) -> Iterate:
        """Return a first iterate without vapour in the links.

        Parameters
        ----------
        nodes, outlets, gas, from_above
            As the attributes.
        """
        return cls(
            nodes=nodes,
            outlets=outlets,
            vapour=np.zeros(outlets.shape),
            standing=np.zeros(outlets.shape, dtype=bool),
            gas=gas,
            relaxation=np.ones(outlets.shape),
            residual=np.full(outlets.shape, np.nan),
            step=np.ones(outlets.shape[1]),
            warming=np.full(np.shape(gas.displaced), np.nan),
            drift=np.zeros((len(nodes) + len(outlets), outlets.shape[1])),
            pace=np.ones((len(nodes) + len(outlets), outlets.shape[1])),
            swings=np.zeros(outlets.shape[1]),
            held=np.zeros(outlets.shape[1], dtype=bool),
            from_above=from_above,
        )

    def next(self, update: Update, draws: Draws, settled: BoolArray) -> Iterate:
        """Return the iterate of the next round, with the tangents of this one.

        Parameters
        ----------
        update : Update
        draws : Draws
        settled : bool array (points,)
            Whether gas at the pumps' inlets and in what they draw through is what it is at these temperatures: only
            then the temperatures follow, which would otherwise be led past the solution.
        """
        warming = update.nodes[draws.inlets] - self.nodes[draws.inlets]
        step = np.where(settled, self._step(warming), 0.0)
        drawn = draws.links[:, None]
        residual = np.where(drawn, update.drawn_vapour, update.vapour) - self.vapour
        # While the temperatures moved a secant says nothing about what the pumps draw through.
        relaxation = np.where(drawn & ~self.held, 1.0, self._relaxation(residual))
        drift = np.concatenate([update.nodes - self.nodes, update.outlets - self.outlets])
        # Every other temperature follows from the flows alone: lengthened, its own error would grow.
        steps = np.where(draws.at_inlets | (step == 0.0), step, 1.0)
        pace = self.pace
        if self.rounds >= _PLAIN_TEMPERATURE_ROUNDS:
            # A pump that stops almost has little fuel to warm, and its flow follows the fuel's density. What moves the
            # temperatures at the pumps' inlets is left to the secant.
            resting = np.abs(warming).max(axis=0) < TEMPERATURE_TOLERANCE
            back_and_forth = (drift * self.drift < 0.0) & (~draws.at_inlets | resting)
            pace = np.where(back_and_forth, np.maximum(0.5 * pace, _LEAST_RELAXATION), np.minimum(1.25 * pace, 1.0))
        warmed = np.concatenate([self.nodes, self.outlets]) + pace * steps * drift
        warmed = np.clip(warmed, _COLDEST, _HOTTEST)
        return replace(
            self,
            nodes=warmed[: len(self.nodes)],
            outlets=warmed[len(self.nodes) :],
            vapour=np.clip(self.vapour + self._bounded(relaxation * residual, drawn), 0.0, MOST_VAPOUR),
            standing=update.standing,
            relaxation=relaxation,
            swings=self.swings + (settled & (np.nansum(warming * self.warming, axis=0) < 0.0)),
            held=step == 0.0,
            residual=residual,
            step=np.where(step > 0.0, step, self.step),
            warming=np.where(step > 0.0, warming, self.warming),
            drift=np.where(step > 0.0, drift, self.drift),
            pace=np.where(step > 0.0, pace, self.pace),
            rounds=self.rounds + 1,
        )

    def _bounded(self, change: LinkArray, drawn: BoolArray) -> LinkArray:
        """Return the change of x in the links, of what pumps draw through from below no more at once than its bound.

        More would ask a pump for a suction that its own gas does not let it have.
        """
        return change if self.from_above else np.where(drawn, np.minimum(change, _GREATEST_RISE), change)

    def _step(self, warming: FloatArray) -> PointArray:
        """Return the length of the next step of the temperatures, over that of a plain one, (points,)."""
        if self.from_above or self.rounds == 0:
            return np.ones(len(self.step))
        before, size = self.warming, np.max(np.abs(warming), axis=0)
        with np.errstate(divide="ignore", invalid="ignore"):
            ratio = np.sum(warming * before, axis=0) / np.sum(before * before, axis=0)
            step = np.where(ratio < 1.0, self.step / (1.0 - ratio), _LONGEST_STEP)
            furthest = 1.0 + _LONGEST_WARMING / size
        # Less flow may also bring less heat, as to a pot: then the map can fall as steeply as a step, and only halving
        # finds the place between both sides.
        swinging = self.swings > _FREE_SWINGS
        step = np.where(swinging & (ratio < 0.0), np.minimum(step, 0.5 * self.step), step)
        step = np.where(swinging & (ratio >= 0.0), np.minimum(step, 1.5 * self.step), step)
        step = np.clip(step, _LEAST_STEP, np.minimum(_LONGEST_STEP, furthest))
        # Temperatures that hardly move, and those of pumps without gas, need no secant.
        resting = (size < 0.1 * TEMPERATURE_TOLERANCE) | np.all(self.gas.displaced == 1.0, axis=0)
        plain = ~np.isfinite(ratio) | (resting & ~swinging)
        return np.where(plain, 1.0, step)

    def _relaxation(self, residual: LinkArray) -> LinkArray:
        """Return the share of the way to its update that each x goes, (links, points)."""
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
        return relaxation

    def converged(self, update: Update, following: Iterate) -> BoolArray:
        """Return whether the update agrees with the iterate, (points,).

        Parameters
        ----------
        update : Update
        following : Iterate
            The iterate of the next round with its tangents.
        """
        vapour = np.abs(update.vapour - self.vapour).max(axis=0)
        temperature = np.abs(update.outlets - self.outlets).max(axis=0)
        agrees: BoolArray = (vapour < VAPOUR_TOLERANCE) & (temperature < TEMPERATURE_TOLERANCE)
        return agrees & self.pumps_converged(update, following)

    def pumps_converged(self, update: Update, following: Iterate) -> BoolArray:
        """Return whether temperature and gas at every pump's inlet agree with the iterate, (points,).

        Parameters
        ----------
        update, following
            As `converged`.
        """
        stepped = np.abs(following.step * following.warming).max(axis=0)
        agrees: BoolArray = (stepped < TEMPERATURE_TOLERANCE) & (following.gas_error(update) < VAPOUR_TOLERANCE)
        return agrees

    def gas_error(self, update: Update) -> PointArray:
        """Return by how much the tangents differ from what the pumps displaced, as a logarithm, (points,)."""
        error: PointArray = np.abs(np.log(self.gas.displaced / update.displaced)).max(axis=0)
        return error

    def take(self, index: IndexArray) -> Iterate:
        """Return some of the points."""
        return replace(
            self,
            nodes=self.nodes[:, index],
            outlets=self.outlets[:, index],
            vapour=self.vapour[:, index],
            standing=self.standing[:, index],
            gas=InletGas._make(np.asarray(values)[:, index] for values in self.gas),
            relaxation=self.relaxation[:, index],
            residual=self.residual[:, index],
            step=self.step[index],
            warming=self.warming[:, index],
            drift=self.drift[:, index],
            pace=self.pace[:, index],
            swings=self.swings[index],
            held=self.held[index],
        )
