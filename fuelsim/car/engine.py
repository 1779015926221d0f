"""The engine as a consumer: the fuel and air it takes at a speed and load, and its manifold pressure."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from fuelsim.arguments import AIR_FUEL_RATIO, ENGINE_TEMPERATURE, number, takes, unchecked
from fuelsim.car.cold_mixture import ColdMixture
from fuelsim.car.engine_demand import AT_A_POINT, EngineDemand, too_much_air, usual_power_speed_share
from fuelsim.constants import AIR_GAS_CONSTANT, L_PER_HOUR, STANDARD_ATMOSPHERE
from fuelsim.errors import InputError
from fuelsim.fields import Quantity, Ratings, choice, count, flag, quantity, series, table
from fuelsim.parts.catalogue_parts import Catalogued
from fuelsim.typing import FloatArray, FloatLike

__all__ = ["Engine", "EngineDemand"]

REFERENCE_DENSITY = 745.0  # kg/m3, the petrol in which idle flows are stated
REFERENCE_TEMPERATURE = 298.15  # K, 25 degC, as in SAE J1349
WARM_ENGINE = 368.15  # K, 95 degC
CRANKING_SPEED = 0.5  # of idle; below it the engine cranks, as in `fuelsim.parts.supply`
OVERSPEED = 1.15  # highest speed that is answered, over the red line
IDLE_FLOW_PER_DISPLACEMENT = 0.31 * L_PER_HOUR / 1e-3  # m3/s per m3: 0.30-0.32 L/h per litre [doe_fact_861]
HIGHEST_VOLUMETRIC_EFFICIENCY = 1.5  # of the boosted density; beyond it displacement, power and boost contradict
MOST_AIR_AT_IDLE = 0.8  # of the full-load charge; beyond it idle and full load contradict
ENRICHMENT_LOADS = (0.70, 0.90)  # the mixture is enriched between these loads [memory]
BOOST_SPEED = 0.4  # of the red line, where a single boost figure is reached [assumed]

# What each form of the full-load curve needs beside itself.
_NEEDED: dict[str, tuple[str, ...]] = {
    "powers": ("speeds", "brake_specific_fuel_consumption"),
    "torques": ("speeds", "brake_specific_fuel_consumption"),
    "volumetric_efficiencies": ("speeds",),
    "peak_power": ("peak_power_speed", "brake_specific_fuel_consumption"),
    "shape": (),
}

# Volumetric efficiency against speed over red line: 0.65-0.75 at both ends, at half of it a peak of 0.80-0.88 for two
# valves, 0.92-1.05 for four [memory]; tuned four-valve engines seldom pass 1.0 [tuning_articles].
_SHAPE_SPEEDS = np.array([0.0, 0.15, 0.30, 0.50, 0.65, 0.85, 1.0, OVERSPEED])
_SHAPES = {
    "two_valve": np.array([0.60, 0.66, 0.72, 0.84, 0.83, 0.77, 0.70, 0.60]),
    "four_valve": np.array([0.66, 0.74, 0.83, 0.94, 0.98, 0.95, 0.87, 0.74]),
}


@dataclass(frozen=True)
class Engine(Ratings, Catalogued):
    """A four-stroke spark-ignition engine, described in one of five forms.

    The full-load air charge follows from one of

    - ``peak_power`` at ``peak_power_speed`` with ``brake_specific_fuel_consumption``; the ``shape`` of the volumetric
      efficiency gives the other speeds;
    - ``powers`` over ``speeds``, or
    - ``torques`` over ``speeds``, both with ``brake_specific_fuel_consumption``;
    - ``volumetric_efficiencies`` over ``speeds``;
    - ``shape`` alone, typical volumetric efficiencies.

    Powers, torques and efficiencies hold at 101.325 kPa and 25 degC, on the reference fuel and at full load. A power
    corrected to the 99 kPa of SAE J1349 is about 2 % below what the engine takes at sea level. Where ``speeds`` are
    given a list belongs to them, otherwise to the operating points.

    Raises
    ------
    InputError
        Where a value is outside its plausible range, the form is incomplete or given twice, or power, displacement and
        boost contradict each other.

    Examples
    --------
    >>> engine = Engine(displacement="4.9 L", cylinders=8, red_line="5600 rpm", peak_power="225 kW",
    ...                 peak_power_speed="5400 rpm", brake_specific_fuel_consumption="315 g/kWh")
    >>> demand = engine.demand(5400.0, 1.0)
    >>> round(float(demand.fuel_mass_flow) / 745.0 * 3.6e6, 1)
    95.1
    """

    catalogue_kind: ClassVar[str] = "engines"

    displacement: Quantity = quantity(
        "displacement", "Displacement of all cylinders together.", least=5e-5, most=0.02, example="4.9 L"
    )
    cylinders: int = count("Number of cylinders.", least=1, most=16, example="8")
    red_line: Quantity = quantity(
        "engine speed", "Highest engine speed in use.", least=1000.0, most=20_000.0, example="5600 rpm"
    )
    idle_speed: Quantity = quantity(
        "engine speed", "Engine speed at warm idle.", least=300.0, most=3000.0, default=800.0, example="800 rpm"
    )
    idle_fuel_flow: Quantity = quantity(
        "volume flow",
        "Fuel flow at warm idle, as petrol of 745 kg/m3; left out, 0.31 L/h per litre of engine (US DOE Fact 861).",
        least=0.01 * L_PER_HOUR,
        most=20.0 * L_PER_HOUR,
        default=None,
        example="1.5 L/h",
    )
    idle_manifold_pressure: Quantity = quantity(
        "absolute pressure",
        "Manifold pressure at warm idle, absolute; typically 30 to 40 kPa.",
        least=15e3,
        most=90e3,
        default=35e3,
        example="35 kPa",
    )
    speeds: Quantity = series(
        "engine speed",
        "Engine speeds of the full-load curve, rising.",
        least=100.0,
        most=20_000.0,
        default=None,
        example="[1500, 3000, 4500, 5500]",
    )
    powers: Quantity = series(
        "power", "Full-load power at each speed.", least=100.0, most=3e6, default=None, example="['40 kW', '90 kW']"
    )
    torques: Quantity = series(
        "torque", "Full-load torque at each speed.", least=1.0, most=5e3, default=None, example="['250 N m', '290 N m']"
    )
    volumetric_efficiencies: Quantity = series(
        "fraction",
        "Full-load volumetric efficiency at each speed, for air at manifold pressure and ambient temperature.",
        least=0.1,
        most=HIGHEST_VOLUMETRIC_EFFICIENCY,
        default=None,
        example="[0.70, 0.84, 0.70]",
    )
    peak_power: Quantity = quantity(
        "power", "Greatest power of the engine.", least=500.0, most=3e6, default=None, example="225 kW"
    )
    peak_power_speed: Quantity = quantity(
        "engine speed",
        "Engine speed of the greatest power.",
        least=500.0,
        most=20_000.0,
        default=None,
        example="5400 rpm",
    )
    shape: str | None = choice(
        ("two_valve", "four_valve"),
        "Shape of the volumetric efficiency over speed; with peak_power 'two_valve' unless given.",
        default=None,
    )
    brake_specific_fuel_consumption: Quantity = quantity(
        "specific fuel consumption",
        "Full-load fuel consumption per shaft work, one figure or a list over speeds: naturally aspirated 274 to 304 "
        "g/kWh, old low-compression engines to 353, boosted 335 to 395 (trade guides).",
        least=180.0 / 3.6e9,
        most=800.0 / 3.6e9,
        default=None,
        example="305 g/kWh",
        rows=True,
    )
    lambda_full_load: Quantity = quantity(
        "number",
        "Air-fuel ratio at full load over the stoichiometric one (lambda): 0.85 to 0.90, boosted 0.76 to 0.84 "
        "(tuning articles).",
        least=0.6,
        most=1.2,
        default=0.88,
    )
    lambda_part_load: Quantity = quantity(
        "number",
        "Air-fuel ratio at part load and at idle over the stoichiometric one (lambda).",
        least=0.6,
        most=1.5,
        default=1.0,
    )
    enrichment: Quantity = quantity(
        "number",
        "Ratio of the fuel asked for to that of these mixtures, at every load and temperature: above 1 at sudden "
        "throttle.",
        least=0.5,
        most=4.0,
        default=1.0,
        example="1.2",
    )
    cold: ColdMixture | None = table(
        ColdMixture, "Enrichment of the cold engine; left out, it asks for no more than a warm one.", default=None
    )
    boost_pressure: Quantity = quantity(
        "pressure difference",
        "Full-load boost pressure above the atmosphere: a list over speeds, or one figure, reached at 0.4 of the red "
        "line.",
        least=0.0,
        most=400e3,
        default=0.0,
        example="60 kPa",
        rows=True,
    )
    air_conditioning_power: Quantity = quantity(
        "power",
        "Shaft power that the air conditioning takes while its compressor runs, fans included.",
        least=0.0,
        most=15e3,
        default=2500.0,
        example="2.5 kW",
    )
    added_fuel_consumption: Quantity = quantity(
        "specific fuel consumption",
        "Fuel consumption of further shaft work at low load, as petrol: the slope of fuel flow over power, "
        "which is less than the consumption at full load because friction is paid already.",
        least=120.0 / 3.6e9,
        most=800.0 / 3.6e9,
        default=230.0 / 3.6e9,
        example="230 g/kWh",
    )
    reference_air_fuel_ratio: Quantity = quantity(
        "number",
        "Stoichiometric air-fuel ratio of the fuel in which consumption is stated.",
        least=5.0,
        most=16.0,
        default=14.7,
    )
    trim_limit: Quantity = quantity(
        "fraction",
        "Share by which the controller may lengthen or shorten the pulse, dead time excluded, to keep the mixture: "
        "25 % is common practice; 0 is open loop.",
        least=0.0,
        most=0.9,
        default=0.25,
        example="25 %",
    )
    assumed_reference: str = choice(
        ("as_fitted", "manifold", "atmosphere"),
        "Pressure above which the controller takes the rail's to be held: 'as_fitted' is that of the regulator; "
        "'manifold' beside a regulator without its hose is a hose that was lost.",
        default="as_fitted",
    )
    rail_pressure_sensor: bool = flag(
        "Whether the controller measures the rail's pressure and sets the pulse by it.", default=False
    )
    lean_limit: Quantity = quantity(
        "number",
        "Air-fuel ratio over the stoichiometric one (lambda) beyond which the engine stops: 1.25 to 1.6, a figure "
        "that nobody publishes; it misfires before.",
        least=1.05,
        most=3.0,
        default=1.4,
        example="1.4",
    )
    pump_cut_delay: Quantity = quantity(
        "time", "Time from the engine's stop until the pump is cut.", least=0.0, most=60.0, default=2.0, example="2 s"
    )

    @property
    def form(self) -> str:
        """The key that gives the full-load curve: powers, torques, volumetric_efficiencies, peak_power or shape."""
        return next((name for name in _NEEDED if getattr(self, name) is not None), "shape")

    def check(self) -> None:
        """Raise InputError where the full-load curve is incomplete, is given twice, or contradicts itself."""
        self._check_form()
        self._check_lengths()
        self._check_speeds()
        if np.any(np.asarray(self.lambda_full_load) > self.lambda_part_load):
            raise InputError(
                "the mixture is leaner at full load than at part load",
                given=self.lambda_full_load,
                accepted=f"at most lambda_part_load, {self.lambda_part_load}",
                key="lambda_full_load",
            )
        self._check_air()

    def _check_form(self) -> None:
        """Each form of the full-load curve needs some keys and cannot use others."""
        form = self.form
        twice = [name for name in _NEEDED if name not in (form, "shape") and getattr(self, name) is not None]
        if twice:
            raise InputError(
                "the full-load curve is given twice", accepted=f"either {form} or {twice[0]}", key=twice[0]
            )
        if form == "shape" and self.shape is None:
            raise InputError(
                "the full-load curve is missing",
                accepted="peak_power with peak_power_speed and brake_specific_fuel_consumption; powers, torques or "
                "volumetric_efficiencies with speeds; or shape alone",
                key="peak_power",
            )
        for key in _NEEDED[form]:
            if getattr(self, key) is None:
                raise InputError(f"missing beside {form}", accepted=" and ".join(_NEEDED[form]), key=key)
        usable = {form, *_NEEDED[form]}
        usable |= {"shape"} if form == "peak_power" else set()
        usable |= {"speeds"} if np.ndim(self.boost_pressure) else set()
        for key in ("speeds", "brake_specific_fuel_consumption", "peak_power_speed", "shape"):
            if key not in usable and getattr(self, key) is not None:
                raise InputError(
                    f"of no use where {form} gives the full-load curve", accepted="leave the key out", key=key
                )

    def _check_lengths(self) -> None:
        if self.speeds is None:
            return
        if self.form == "peak_power" and np.ndim(self.brake_specific_fuel_consumption):
            raise InputError("a list beside peak_power", accepted="one figure", key="brake_specific_fuel_consumption")
        if np.any(np.diff(self.speeds) <= 0.0):
            raise InputError("the speeds must rise", given=self.speeds.tolist(), key="speeds")
        for key in (self.form, "brake_specific_fuel_consumption", "boost_pressure"):
            values = getattr(self, key)
            if np.ndim(values) and np.shape(values) != np.shape(self.speeds):
                raise InputError(
                    f"{np.size(values)} values for {np.size(self.speeds)} speeds",
                    given=np.asarray(values).tolist(),
                    accepted="as many as speeds",
                    key=key,
                )

    def _check_speeds(self) -> None:
        limit = OVERSPEED * self.red_line
        if np.any(self.idle_speed >= self.red_line):
            raise InputError("idle is not below the red line", given=self.idle_speed, key="idle_speed")
        for key in ("speeds", "peak_power_speed"):
            if getattr(self, key) is not None and np.any(np.max(getattr(self, key)) > limit):
                raise InputError(
                    "beyond the red line",
                    given=f"{np.max(getattr(self, key)):g} rpm",
                    accepted=f"at most {OVERSPEED:g} times the red line, {np.min(limit):g} rpm",
                    key=key,
                )

    def _check_air(self) -> None:
        speed = np.linspace(self.idle_speed, self.red_line, 24)[..., np.newaxis]  # leaves room for operating points
        efficiency = float(np.max(self._full_charge(speed) / self._filled(speed)))
        if efficiency > HIGHEST_VOLUMETRIC_EFFICIENCY:
            raise self._too_much_air(efficiency)
        idle = float(np.max(self._idle_fraction()))
        if idle > MOST_AIR_AT_IDLE:
            raise InputError(
                f"idle takes {100.0 * idle:.0f} % of the full-load charge",
                accepted=f"at most {100.0 * MOST_AIR_AT_IDLE:.0f} %; check idle_fuel_flow, idle_speed and {self.form}",
                key="idle_fuel_flow",
            )

    def _too_much_air(self, efficiency: float) -> InputError:
        """Return the error of a volumetric efficiency beyond what an engine takes, with its cause."""
        boost, most, there = float(np.max(self.boost_pressure)), HIGHEST_VOLUMETRIC_EFFICIENCY, efficiency
        usual_speed, power_speed = 0.0, None
        if self.form == "peak_power":
            red_line, power_speed = float(np.min(self.red_line)), float(np.min(self.peak_power_speed))
            share = usual_power_speed_share(self.shape or "two_valve", boosted=boost > 0.0)
            usual_speed = 50.0 * round(share * red_line / 50.0)
            air, usual_air = (
                float(np.min(speed * self._shape_at(np.asarray(speed)) * self._filled(np.asarray(speed))))
                for speed in (power_speed, usual_speed)
            )
            there = efficiency * air / usual_air
        return too_much_air(self.form, efficiency, most, boost, power_speed, usual_speed, there)

    @takes(AT_A_POINT | {"stoichiometric_air_fuel_ratio": AIR_FUEL_RATIO, "engine_temperature": ENGINE_TEMPERATURE})
    def demand(
        self,
        speed: Quantity,
        load: Quantity = 1.0,
        *,
        stoichiometric_air_fuel_ratio: Quantity = 14.7,
        atmospheric_pressure: Quantity = STANDARD_ATMOSPHERE,
        air_temperature: Quantity = REFERENCE_TEMPERATURE,
        engine_temperature: Quantity = WARM_ENGINE,
    ) -> EngineDemand:
        """Return what the engine takes; the arguments broadcast like numpy.

        Air charge follows ambient pressure (plus boost) and the inverse square root of air temperature, as the power
        correction of SAE J1349 has it. Below the no-load charge, which is that of warm idle at any speed, the throttle
        closes no further: load 0 is the engine turning without load. On another fuel the air and lambda stay and
        the fuel mass changes with the stoichiometric ratio.

        Parameters
        ----------
        speed : float, str or array
            Engine speed, rpm, from 0 to 1.15 times the red line.
        load : float, str or array
            Fraction of the full-load air charge at that speed and in that air, 0 to 1.
        stoichiometric_air_fuel_ratio : float, str or array
            Mass ratio for the fuel burnt, kg/kg.
        atmospheric_pressure : float, str or array
            Pa absolute.
        air_temperature : float, str or array
            K.
        engine_temperature : float, str or array
            Temperature of the engine's metal, K, by which the table `cold` enriches.

        Returns
        -------
        EngineDemand
            Flows in kg/s, manifold pressure in Pa absolute.

        Raises
        ------
        InputError
            Where speed or load is outside its range.

        Examples
        --------
        >>> engine = Engine(displacement="1.6 L", cylinders=4, red_line=6500.0, shape="four_valve")
        >>> idle = engine.demand(800.0, 0.0)
        >>> round(float(idle.fuel_mass_flow) / 745.0 * 3.6e6, 3), round(float(idle.manifold_pressure))
        (0.496, 35000)
        """
        speed, load, ratio, pressure, temperature = (
            np.asarray(value, dtype=float)
            for value in (speed, load, stoichiometric_air_fuel_ratio, atmospheric_pressure, air_temperature)
        )
        self._check_point(speed, load)
        boost = self._boost(speed)
        full = self._full_charge_in(speed, pressure, temperature)
        # The fourth-power mean joins no-load and load without a corner, and leaves load 1 exactly the full charge.
        no_load = np.minimum(self._idle_charge() / full, 1.0) ** 4
        charge = (load**4 * (1.0 - no_load) + no_load) ** 0.25
        enriched = _smooth_step(load, *ENRICHMENT_LOADS)
        mixture = self.lambda_part_load + (self.lambda_full_load - self.lambda_part_load) * enriched
        mixture = mixture / self.enrichment
        if self.cold is not None:
            cranks = speed < CRANKING_SPEED * self.idle_speed
            mixture = mixture / unchecked(self.cold.factor)(engine_temperature, cranks)
        air = charge * full * speed / 60.0
        shape = np.broadcast_shapes(air.shape, ratio.shape, mixture.shape)
        return EngineDemand(
            fuel_mass_flow=np.broadcast_to(air / (mixture * ratio), shape),
            air_mass_flow=np.broadcast_to(air, shape),
            manifold_pressure=np.broadcast_to(self._manifold_pressure(speed, charge, pressure, boost), shape),
            lambda_demanded=np.broadcast_to(mixture, shape),
        )

    @takes(AT_A_POINT | {"shaft_power": number("power", 0.0, 1e5, example="2.5 kW")})
    def load_with(
        self,
        speed: Quantity,
        load: Quantity,
        shaft_power: Quantity,
        *,
        atmospheric_pressure: Quantity = STANDARD_ATMOSPHERE,
        air_temperature: Quantity = REFERENCE_TEMPERATURE,
    ) -> FloatArray:
        """Return the load at which the engine takes the air that a further shaft power asks for.

        The air grows by ``power x added_fuel_consumption x air-fuel ratio x lambda_part_load``, a straight line of fuel
        flow over power at constant speed (Willans line); at most to full load.

        Parameters
        ----------
        speed : float, str or array
            Engine speed, rpm, above 0.
        load : float, str or array
            Load without that power as a fraction of the full-load air charge, 0 to 1.
        shaft_power : float, str or array
            Power for the air conditioning or to creep, W.
        atmospheric_pressure : float, str or array
            Pa absolute.
        air_temperature : float, str or array
            K.

        Returns
        -------
        array
            Fraction of the full-load air charge.

        Raises
        ------
        InputError
            Where speed or load is outside its range.

        Examples
        --------
        2.5 kW at 230 g/kWh are 575 g of petrol an hour, 0.77 L, beside the 0.5 L of idle:

        >>> engine = Engine(displacement="1.6 L", cylinders=4, red_line=6500.0, shape="four_valve")
        >>> load = engine.load_with(800.0, 0.0, 2500.0)
        >>> round(float(engine.demand(800.0, load).fuel_mass_flow) / 745.0 * 3.6e6, 2)
        1.27
        """
        speed, load, power, pressure, temperature = (
            np.asarray(value, dtype=float)
            for value in (speed, load, shaft_power, atmospheric_pressure, air_temperature)
        )
        self._check_point(speed, load)
        full = self._full_charge_in(speed, pressure, temperature)
        no_load = np.minimum(self._idle_charge() / full, 1.0) ** 4
        charge = (load**4 * (1.0 - no_load) + no_load) ** 0.25
        air = power * self.added_fuel_consumption * self.reference_air_fuel_ratio * self.lambda_part_load
        charge = np.minimum(charge + air / (speed / 60.0) / full, 1.0)
        room = np.maximum(1.0 - no_load, 1e-12)
        raised: FloatArray = np.clip((charge**4 - no_load) / room, 0.0, 1.0) ** 0.25
        return raised

    def _full_charge_in(self, speed: FloatArray, pressure: FloatArray, temperature: FloatArray) -> FloatArray:
        """Air per revolution at full load in air of some pressure and temperature, kg."""
        boost = self._boost(speed)
        thinner = (pressure + boost) / (STANDARD_ATMOSPHERE + boost)
        charge: FloatArray = self._full_charge(speed) * thinner * np.sqrt(REFERENCE_TEMPERATURE / temperature)
        return charge

    def _check_point(self, speed: FloatArray, load: FloatArray) -> None:
        red_line = float(np.min(self.red_line))
        wrong = (speed < 0.0) | (speed > OVERSPEED * red_line)
        if np.any(wrong):
            raise InputError(
                "the engine does not turn at that speed",
                given=f"{float(speed[wrong].flat[0]):g} rpm",
                accepted=f"0 to {OVERSPEED * red_line:g} rpm ({OVERSPEED:g} times the red line of {red_line:g} rpm); "
                "raise the engine's red_line if it turns faster",
                key="rpm",
            )
        wrong = (load < 0.0) | (load > 1.0)
        if np.any(wrong):
            first = float(load[wrong].flat[0])
            hint = f"; write {first / 100.0:g} for {first:g} %" if 1.0 < first <= 100.0 else ""
            raise InputError(
                "load is a fraction of the full-load air charge", given=first, accepted=f"0 to 1{hint}", key="load"
            )

    def _full_charge(self, speed: FloatArray) -> FloatArray:
        """Air per revolution at full load in reference air, kg."""
        form = self.form
        if form == "shape":
            return self._shape_at(speed) * self._filled(speed)
        charge: FloatArray
        if form == "volumetric_efficiencies":
            charge = np.interp(speed, self.speeds, self.volumetric_efficiencies) * self._filled(speed)
            return charge
        air_per_work = self.brake_specific_fuel_consumption * self.reference_air_fuel_ratio * self.lambda_full_load
        if form == "peak_power":
            peak_speed = self.peak_power_speed
            peak = self.peak_power / (peak_speed / 60.0) * air_per_work
            shape = self._shape_at(speed) * self._filled(speed)
            charge = peak * shape / (self._shape_at(peak_speed) * self._filled(peak_speed))
            return charge
        work = 2.0 * np.pi * self.torques if form == "torques" else self.powers / (self.speeds / 60.0)
        charge = np.interp(speed, self.speeds, work * air_per_work)
        return charge

    def _filled(self, speed: FloatArray) -> FloatArray:
        """Air per revolution of cylinders filled at full-load manifold pressure and reference temperature, kg."""
        density = (STANDARD_ATMOSPHERE + self._boost(speed)) / (AIR_GAS_CONSTANT * REFERENCE_TEMPERATURE)
        charge: FloatArray = self.displacement / 2.0 * density
        return charge

    def _shape_at(self, speed: FloatArray) -> FloatArray:
        """Volumetric efficiency by the shape over the red line."""
        efficiency: FloatArray = np.interp(speed / self.red_line, _SHAPE_SPEEDS, _SHAPES[self.shape or "two_valve"])
        return efficiency

    def _idle_charge(self) -> FloatArray:
        """Air per revolution that turns the warm engine without load, kg."""
        flow = self.idle_fuel_flow
        if flow is None:
            flow = IDLE_FLOW_PER_DISPLACEMENT * self.displacement
        air = flow * REFERENCE_DENSITY * self.reference_air_fuel_ratio * self.lambda_part_load
        charge: FloatArray = air / (self.idle_speed / 60.0)
        return charge

    def _idle_fraction(self) -> FloatArray:
        """No-load charge over full-load charge at idle speed."""
        return self._idle_charge() / self._full_charge(self.idle_speed)

    def _boost(self, speed: FloatArray) -> FloatArray:
        """Full-load boost above the atmosphere, Pa."""
        boost: FloatArray
        if self.speeds is not None and np.ndim(self.boost_pressure):
            boost = np.interp(speed, self.speeds, self.boost_pressure)
        else:
            reached = np.maximum(BOOST_SPEED * self.red_line, 1.5 * self.idle_speed)
            boost = self.boost_pressure * _smooth_step(speed, self.idle_speed, reached)
        return boost

    def _manifold_pressure(
        self, speed: FloatArray, charge: FloatArray, pressure: FloatArray, boost: FloatArray
    ) -> FloatArray:
        """Manifold pressure, Pa absolute: a straight line over the charge through warm idle and full load.

        With the engine at rest it is the atmosphere.
        """
        idle = self._idle_fraction()
        residual = np.maximum((self.idle_manifold_pressure - idle * STANDARD_ATMOSPHERE) / (1.0 - idle), 0.0)
        without_charge = residual * pressure / STANDARD_ATMOSPHERE
        running = without_charge + (pressure + boost - without_charge) * charge
        manifold: FloatArray = pressure + (running - pressure) * _smooth_step(speed, 0.0, self.idle_speed)
        return manifold


def _smooth_step(value: FloatArray, start: FloatLike, end: FloatLike) -> FloatArray:
    """Return 0 below `start`, 1 above `end` and a cubic between that joins both without a corner."""
    t: FloatArray = np.clip((value - start) / (end - start), 0.0, 1.0)
    return t * t * (3.0 - 2.0 * t)
