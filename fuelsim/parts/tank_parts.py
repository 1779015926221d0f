"""Parts in and around the tank: vent and jet pump."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.arguments import PRESSURE_DIFFERENCE, VOLUME_FLOW, number, takes
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, quantity
from fuelsim.laws.jet_pump import entrainment_ratio, vent_pressure
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.parts.orifice import Orifice
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["JetPump", "TankVent"]

_AIR_DENSITY = 1.15
"""Density of air near 30 degC, kg/m3."""
_NOZZLE_DISCHARGE = 0.9
"""Discharge coefficient of a tapered nozzle: 1/sqrt(1 + K) with K 0.23, fair for a moulded one [computed]."""
MOULDED_RATIO_PRODUCT, MOST_RATIO_PRODUCT = 0.6, 1.4
"""Largest flow ratio times stalling head ratio of a moulded ejector, and the most of a well made one
[karassik_pump_handbook]."""


@dataclass(frozen=True, eq=False)
class TankVent(Ratings, Catalogued):
    """The vent of the tank: open, through a cap's valves, or almost blocked.

    A sealed cap loads the tank: UN rules test tanks to twice their working pressure and at least 30 kPa [un_rule_tanks]
    [directive_70_221_eec]; large nonroad engines may have a cap sealed to 24.5 kPa [cfr_40_1048_245]. No cap above 15
    kPa on an old tank without a test.

    Examples
    --------
    >>> open_vent, blocked = TankVent.named("open_vent"), TankVent.named("blocked")
    >>> [round(float(vent.gauge_pressure(draw=100e-3 / 3600.0)), -1) for vent in (open_vent, blocked)]
    [-10.0, -7860.0]
    """

    catalogue_kind: ClassVar[str] = "vents"

    bore: Quantity = quantity(
        "bore", "Bore of the vent's narrowest place.", least=1e-4, most=0.05, default=4e-3, example="4 mm"
    )
    pressure_opening: Quantity = quantity(
        "pressure difference",
        "Opening pressure of the cap's pressure valve; 0 for an open vent.",
        least=0.0,
        most=5e4,
        default=0.0,
        example="7 kPa",
    )
    vacuum_opening: Quantity = quantity(
        "pressure difference",
        "Opening pressure of the cap's vacuum valve; 0 for an open vent.",
        least=0.0,
        most=5e4,
        default=0.0,
        example="2 kPa",
    )

    @takes({"draw": VOLUME_FLOW, "vapour_formed": number("volume flow", 0.0, 1.0, example="30 L/h")})
    def gauge_pressure(self, draw: Quantity, vapour_formed: Quantity = 0.0) -> FloatArray:
        """Return the steady pressure of the vapour space above the atmosphere.

        Parameters
        ----------
        draw : float, str or array (points,)
            Fuel flow that leaves the tank and does not return, which the engine burns, m3/s.
        vapour_formed : float, str or array (points,)
            Volume flow of vapour formed, at tank conditions, m3/s.

        Returns
        -------
        array
            Gauge pressure, Pa; negative where the vent throttles the air that replaces the fuel.

        Examples
        --------
        >>> round(float(TankVent(bore="4 mm", vacuum_opening="2 kPa").gauge_pressure(100e-3 / 3600.0)))
        -2008
        """
        area = np.pi / 4.0 * self.bore**2
        outflow = np.asarray(vapour_formed, dtype=float) - draw
        return vent_pressure(outflow, self.pressure_opening, self.vacuum_opening, area, _AIR_DENSITY)


@dataclass(frozen=True, eq=False)
class JetPump(Ratings):
    """An ejector that fills a pot, driven by fuel that returns or bypasses.

    The momentum balance ties the two ratios: their product M_0 N_0 is 0.5 to 0.8 for rough mouldings, 0.8 to 1.4 for
    well made ones [karassik_pump_handbook].

    Raises
    ------
    InputError
        For a pair of ratios whose product no jet pump has, or a value that is not accepted.

    Examples
    --------
    >>> jet = JetPump(nozzle_bore="0.8 mm")
    >>> round(float(jet.suction_flow(20e-3 / 3600, 60e3, 2e3)) * 3.6e6, 1)
    49.7
    """

    nozzle_bore: Quantity = quantity(
        "bore", "Bore of the nozzle.", least=2e-4, most=5e-3, default=8e-4, example="0.8 mm"
    )
    largest_ratio: Quantity = quantity(
        "number", "Ratio of suction to motive flow without lift, M_0.", least=0.1, most=20.0, default=3.0
    )
    stall_pressure_ratio: Quantity = quantity(
        "number",
        "Head ratio at which the suction flow is zero, N_0; left out, that of a moulded ejector, 0.6/M_0.",
        least=0.01,
        most=3.0,
        default=None,
        example="0.2",
    )

    def check(self) -> None:
        """Check that the pair of ratios is one that a jet pump can have."""
        if self.stall_pressure_ratio is None:
            return
        product = np.asarray(self.largest_ratio) * self.stall_pressure_ratio
        if np.any(product > MOST_RATIO_PRODUCT):
            most = MOST_RATIO_PRODUCT / float(np.max(self.largest_ratio))
            raise InputError(
                "no jet pump has so large a flow and so large a head ratio",
                given=self.stall_pressure_ratio,
                accepted=f"at most {most:.2g} with this largest_ratio",
                key="stall_pressure_ratio",
            )

    @property
    def stall_ratio(self) -> FloatLike:
        """Head ratio at which the suction flow is zero: as given, else that of a moulded ejector."""
        largest: FloatLike = self.largest_ratio
        given: FloatLike | None = self.stall_pressure_ratio
        return MOULDED_RATIO_PRODUCT / largest if given is None else given

    def nozzle(self) -> Orifice:
        """Return the nozzle as a link of the network.

        Returns
        -------
        Orifice
            With the discharge coefficient of a tapered nozzle.

        Examples
        --------
        >>> JetPump(nozzle_bore="0.8 mm").nozzle().diameter
        0.0008
        """
        return Orifice(diameter=self.nozzle_bore, discharge_coefficient=_NOZZLE_DISCHARGE)

    @takes(
        {
            "motive_flow": number("volume flow", -1e-2, 1e-2, example="20 L/h"),
            "motive_drop": PRESSURE_DIFFERENCE,
            "lift_pressure": PRESSURE_DIFFERENCE,
        }
    )
    def suction_flow(self, motive_flow: Quantity, motive_drop: Quantity, lift_pressure: Quantity) -> FloatArray:
        """Return the suction flow.

        Parameters
        ----------
        motive_flow : float, str or array (points,)
            Flow through the nozzle, m3/s.
        motive_drop, lift_pressure : float, str or array (points,)
            Pressures of nozzle inlet and of outlet above the suction chamber, Pa.

        Returns
        -------
        array
            Volume flow, m3/s.

        Examples
        --------
        Three times the motive flow without lift:

        >>> round(float(JetPump(largest_ratio=3.0).suction_flow(1e-5, 60e3, 0.0)) * 1e6, 6)
        30.0
        """
        ratio = entrainment_ratio(motive_drop, lift_pressure, self.largest_ratio, self.stall_ratio)
        flow: FloatArray = ratio * np.maximum(np.asarray(motive_flow, dtype=float), 0.0)
        return flow
