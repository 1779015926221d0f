"""Right values of the arguments of every public function, by name, and values that none should take."""

from __future__ import annotations

import datetime
import decimal
import functools
import itertools
import math
import tempfile
from pathlib import Path

import numpy as np
import pandas as pd

import fuelsim as fs
from fuelsim.declaration import declarations
from fuelsim.parts.catalogue_parts import catalogue_names
from fuelsim.parts.pump.bench_tables import fit_bench


class Hostile:
    """An object that fails at everything it is asked."""

    def _refuse(self, *args):
        raise RuntimeError("hostile")

    __repr__ = __str__ = __len__ = __iter__ = __float__ = __int__ = __index__ = __bool__ = _refuse
    __array__ = __getitem__ = __contains__ = __eq__ = __call__ = __fspath__ = __format__ = _refuse
    __hash__ = object.__hash__


class HostileFloat(float):
    """A number that cannot be read."""

    def __float__(self):
        raise RuntimeError("hostile")

    __repr__ = __float__


class Endless:
    """A list that says it is short and never ends."""

    def __len__(self):
        return 3

    def __iter__(self):
        return itertools.repeat(1.0)


class Nothing:
    """An object without anything."""


@functools.cache
def bad_values():
    """Return the bad values by name: no argument of any public function should take them, but for text and None."""
    endless = []
    endless.append(endless)
    return {
        "not a number": math.nan,
        "infinity": math.inf,
        "minus infinity": -math.inf,
        "1e308": 1e308,
        "-1e308": -1e308,
        "huge whole number": 10**400,
        "array with NaN": np.array([1.0, math.nan]),
        "array of infinities": np.array([math.inf]),
        "numpy NaN": np.float64("nan"),
        "complex": 1 + 2j,
        "complex array": np.array([1 + 2j]),
        "text of NaN": "nan kPa",
        "text of infinity": "inf m",
        "wrong unit": "5 mol",
        "negative length": "-5 m",
        "negative pressure": "-5000 kPa absolute",
        "year": "1000 year",
        "no unit": "banana",
        "empty text": "",
        "blank": "   ",
        "control character": "a\x1b[31m\x00b",
        "long text": "x" * 100_000,
        "lone surrogate": "\ud800",
        "bytes": b"300 kPa",
        "empty list": [],
        "list of lists": [[1.0], [2.0, 3.0]],
        "list of text": ["banana", "apple"],
        "list of None": [None, None],
        "itself": endless,
        "mapping": {"a": 1},
        "mapping of anything": {1: None, None: []},
        "set": {1.0, 2.0},
        "huge range": range(10**8),
        "range beyond counting": range(10**30),
        "huge broadcast": np.broadcast_to(1.0, 10**11),
        "huge broadcast text": np.broadcast_to("1 m", 10**9),
        "endless list": Endless(),
        "endless generator": itertools.repeat(1.0),
        "date": datetime.date(2026, 1, 1),
        "time stamp": np.datetime64("2026-01-01"),
        "array of dates": np.array(["2026-01-01"], dtype="datetime64[D]"),
        "decimal NaN": decimal.Decimal("nan"),
        "masked": np.ma.masked_array([300.0, 310.0], mask=[True, False]),
        "array of objects": np.array([object(), None], dtype=object),
        "structured array": np.zeros(2, dtype=[("a", float)]),
        "table": pd.DataFrame({"a": [math.nan]}),
        "column with gaps": pd.Series([1.0, math.nan]),
        "not available": pd.NA,
        "hostile": Hostile(),
        "hostile number": HostileFloat(1.0),
        "object": Nothing(),
        "class": Nothing,
        "exception": ValueError("x"),
        "function": math.sin,
        "module": math,
        "ellipsis": ...,
        "not implemented": NotImplemented,
        "fuel": fs.Fuel,
        "liquid": fs.Liquid(density=745.0, kinematic_viscosity=6e-7),
        "line": fs.Line(length=1.0, bore=8e-3),
    }


@functools.cache
def car():
    return fs.Car.named("heron")


@functools.cache
def plan():
    return fs.Plan(tank_length="0.8 m", baffle_volume="1 L")


@functools.cache
def planned_car():
    return car().with_plan(plan())


@functools.cache
def system():
    return car().system("return")


@functools.cache
def run():
    return system().solve(rpm=[800.0, 3000.0], load=[0.0, 0.5])


@functools.cache
def fuel():
    return fs.Fuel.petrol("60 kPa")


@functools.cache
def liquid():
    return fs.Liquid(density="745 kg/m3", kinematic_viscosity="0.6 mm2/s")


def network():
    net = fs.Network()
    net.add_reservoir("tank", "110 kPa absolute")
    net.add_node("rail")
    net.connect("tank", "rail", fs.Line(length="2 m", bore="8 mm"), "feed")
    return net


@functools.cache
def state():
    return network().solve(liquid(), {"rail": ["20 L/h", "30 L/h"]})


@functools.cache
def phase():
    return fs.typical_phase("motorway", "5 min", car())


@functools.cache
def schedule():
    return fs.Schedule.of([phase()])


@functools.cache
def sizing():
    few = fs.Conditions(rpm=[1000.0, 4000.0])
    return fs.size(car(), "return", {"feed.bore": ["7 mm", "8 mm"]}, conditions=few, progress=False)


@functools.cache
def lock_temperatures():
    one = np.array(330.0)
    return fs.LockTemperatures("return", one, one, one, np.array(True), one, np.array(60.0), None, None)


@functools.cache
def curve_pump():
    return fs.Pump.from_curve(["300 L/h", "200 L/h"], ["1 bar", "4 bar"], current=[4.0, 8.0])


def _made(cls):
    """Return an object of a class of ratings by its name in the catalogue, by its defaults, or by examples."""
    if hasattr(cls, "catalogue_kind"):
        return cls.named(catalogue_names(cls.catalogue_kind)[0])
    given = {
        name: item.example or item.choices[0] if item.choices else item.example
        for name, item in declarations(cls).items()
        if item.required
    }
    return cls(**given)


def _file(name, text):
    """Return the path of a file of this text in a folder made for the test."""
    path = Path(tempfile.mkdtemp()) / name
    path.write_text(text, encoding="utf-8")
    return path


@functools.cache
def car_file():
    return _file("car.toml", car().to_toml())


@functools.cache
def bench_file():
    return _file("bench.csv", "flow [L/h],pressure [kPa]\n180,400\n207,300\n")


@functools.cache
def network_file():
    return _file(
        "net.inp",
        "[RESERVOIRS]\nR 50\n[JUNCTIONS]\nJ 0 1\n[PIPES]\nP R J 100 100 0.1 0 Open\n"
        "[OPTIONS]\nUNITS LPS\nHEADLOSS D-W\n[END]\n",
    )


OBJECTS = {
    "BandInput": lambda: fs.band_inputs(car())[0],
    "Car": car,
    "Climate": lambda: fs.hot_day("phoenix"),
    "Conditions": lambda: fs.Conditions(rpm=[800.0, 3000.0]),
    "ControlledPump": lambda: fs.ControlledPump(curve_pump(), "300 kPa"),
    "Engine": lambda: car().engine,
    "Finding": lambda: fs.findings(system())[0],
    "Fitting": lambda: fs.Fitting(kind="exit"),
    "FlowControlValve": lambda: fs.FlowControlValve("100 L/h", "20 kPa", "200 L/h"),
    "Fuel": fuel,
    "Liquid": liquid,
    "LockTemperatures": lock_temperatures,
    "LossCurve": lambda: fs.LossCurve(["50 L/h", "100 L/h"], ["3 kPa", "10 kPa"]),
    "Network": network,
    "Outcome": lambda: run().outcome,
    "OutcomeCode": lambda: fs.OutcomeCode.CONVERGED,
    "Phase": phase,
    "Plan": plan,
    "Pump": curve_pump,
    "FuelChoice": lambda: fs.FuelChoice(vapour_pressure="60 kPa"),
    "PlumbingDescription": lambda: fs.PlumbingDescription(runs=[["tank", "pump", "rail"]]),
    "PumpStage": lambda: fs.PumpStage(demand_on="100 L/h", demand_off="80 L/h"),
    "PumpSteps": lambda: fs.PumpSteps(demand=[0.0, "40 L/h"], duty=["66 %", "100 %"]),
    "Run": run,
    "Schedule": schedule,
    "Severity": lambda: fs.Severity.WARNING,
    "Sizing": sizing,
    "State": state,
    "Reading": lambda: fs.Reading("rail_pressure", 3e5, at={"rpm": 3000.0}),
    "UncertainInput": lambda: fs.uncertain_inputs(system())[0],
}
"""An object of each public class that is not made from its name in the catalogue, its defaults or its examples."""


@functools.cache
def shared_object(name):
    return OBJECTS[name]() if name in OBJECTS else _made(getattr(fs, name))


def object_of(name):
    """Return an object of a public class; a network is made anew, since its methods change it."""
    return network() if name == "Network" else shared_object(name)


ARGUMENTS = {
    "adverse": lambda: 0,
    "calibration": lambda: None,
    "source": lambda: "memory",
    "acceleration": lambda: 3.0,
    "set_pressure": lambda: "300 kPa",
    "pressure_after": lambda: "300 kPa",
    "pressure_before": lambda: "340 kPa",
    "margin": lambda: "20 %",
    "loss_coefficient": lambda: 2.0,
    "loss": lambda: "10 kPa",
    "longest": lambda: "10 min",
    "injectors": lambda: fs.Injectors.named("size_200"),
    "fuels": lambda: ["summer_e0"],
    "filter": lambda: fs.Filter.named("canister_medium"),
    "fill": lambda: "25 %",
    "cornering": lambda: "0.8 g",
    "brake_specific_fuel_consumption": lambda: "305 g/kWh",
    "boost": lambda: "60 kPa",
    "activity_model": lambda: "unifac",
    "air_conditioning": lambda: 0.0,
    "air_temperature": lambda: "30 degC",
    "altitude": lambda: 100.0,
    "answer": lambda: lambda car: float(car.tank.fuel_volume),
    "aromatics": lambda: None,
    "ax": lambda: None,
    "assumed_pressure_difference": lambda: 3e5,
    "atmospheric_pressure": lambda: 101325.0,
    "base_pressure": lambda: 101325.0,
    "basis": lambda: "volume",
    "batched": lambda: False,
    "battery_temperature": lambda: 293.15,
    "bench_density": lambda: 745.0,
    "bay_temperature": lambda: "60 degC",
    "bleed_diameter": lambda: 0.0,
    "bands": lambda: False,
    "wrong_fuel": lambda: False,
    "executor": lambda: None,
    "bore": lambda: "8 mm",
    "candidates": lambda: {"feed.bore": ["7 mm", "8 mm"]},
    "car": car,
    "cars": lambda: [car()],
    "changes": lambda: {"wide": {"feed.bore": "10 mm"}},
    "climate": lambda: fs.hot_day("phoenix"),
    "cold": lambda: "-10 degC",
    "combination": lambda: 0,
    "components": lambda: {"isopentane": 0.3, "isooctane": 0.7},
    "conditions": lambda: fs.Conditions(rpm=[1000.0, 4000.0]),
    "cranking_speed": lambda: 150.0,
    "cranks": lambda: True,
    "creep_power": lambda: 0.0,
    "current": lambda: 8.0,
    "decision": lambda: None,
    "reused": lambda: ["tank"],
    "defaults": lambda: {"altitude": 0.0},
    "demand": lambda: 1e-5,
    "density": lambda: 745.0,
    "down": lambda: "rail",
    "diameter": lambda: "1 mm",
    "draw": lambda: 2e-5,
    "duration": lambda: "10 min",
    "duty": lambda: 1.0,
    "e100": lambda: None,
    "e150": lambda: None,
    "e70": lambda: None,
    "end": lambda: None,
    "end_altitude": lambda: None,
    "engine_speed": lambda: 3000.0,
    "engine_temperature": lambda: "80 degC",
    "ethanol": lambda: 0.05,
    "ether": lambda: 0.0,
    "event": lambda: "engine stops",
    "filter_clogging": lambda: 4.0,
    "first": lambda: "pump_power",
    "fit": lambda: fit_bench(["300 L/h", "250 L/h", "246 L/h", "200 L/h"], ["1 bar", "2.9 bar", "3.1 bar", "4.5 bar"]),
    "fittings": lambda: [fs.Fitting(kind="exit")],
    "flow": lambda: ["300 L/h", "200 L/h"],
    "fraction": lambda: 0.5,
    "fuel": fuel,
    "fuel_density": lambda: 745.0,
    "fuel_temperature": lambda: 293.15,
    "fuel_volume": lambda: None,
    "function": lambda: np.negative,
    "height": lambda: 0.1,
    "heights": lambda: {},
    "hours": lambda: 0.1,
    "index": lambda: (0,),
    "inputs": lambda: fs.band_inputs(car())[:1],
    "key": lambda: "bore",
    "kind": lambda: "pressure difference",
    "label": lambda: "mine",
    "layout": lambda: "return",
    "layouts": lambda: ("return", "returnless_tank"),
    "leak_flow": lambda: 1e-10,
    "length": lambda: "2 m",
    "lift_pressure": lambda: 2e3,
    "limited": lambda: "tank_temperature",
    "liquid": liquid,
    "liquid_temperature": lambda: "40 degC",
    "load": lambda: 0.5,
    "loaded_voltage": lambda: 11.0,
    "mass_draw": lambda: None,
    "mass_flow": lambda: 0.004,
    "mass_loss": lambda: 0.05,
    "measure": lambda: "rail_pressure",
    "measures": lambda: ["rail_pressure"],
    "methanol": lambda: 0.0,
    "mild": lambda: "20 degC",
    "motive_drop": lambda: 6e4,
    "motive_flow": lambda: 5e-6,
    "mounting": lambda: "in_tank",
    "name": lambda: "return",
    "open_voltage": lambda: 12.5,
    "other": fuel,
    "other_compliance": lambda: 3e-13,
    "otherwise": lambda: 6000.0,
    "outlet": lambda: "rail",
    "output_step": lambda: 60.0,
    "overwrite": lambda: True,
    "p": lambda: 101325.0,
    "part": lambda: fs.Line(length="1 m", bore="8 mm"),
    "bulk_modulus": lambda: "1 GPa",
    "dynamics": lambda: fs.Dynamics(),
    "blips": lambda: 2,
    "hold": lambda: "10 ms",
    "firing_order": lambda: [1, 3, 4, 2],
    "compliance": lambda: 1e-8,
    "dampers": lambda: {"rail": fs.Damper()},
    "frequency": lambda: ["50 Hz", "80 Hz"],
    "friction": lambda: "none",
    "opening": lambda: {},
    "step": lambda: "0.1 ms",
    "wall_compliance": lambda: 0.0,
    "wave_speed": lambda: "1000 m/s",
    "parts": lambda: {"feed": fs.Line(length="1 m", bore="8 mm")},
    "path": lambda: "file.toml",
    "peak_bay_rise": lambda: 60.0,
    "phases": lambda: [phase()],
    "place": lambda: "phoenix",
    "places": lambda: ["phoenix"],
    "plan": plan,
    "point": lambda: 0,
    "points": lambda: np.array([0]),
    "pressure": lambda: 101325.0,
    "pressure_difference": lambda: 3e5,
    "pressure_rise": lambda: "3 bar",
    "pressures": lambda: {"tank": 110e3},
    "previous": lambda: False,
    "progress": lambda: False,
    "pulse": lambda: 5e-3,
    "pulse_volume": lambda: "20 mm3",
    "pump": curve_pump,
    "pump_duty": lambda: 1.0,
    "pump_wear": lambda: 0.1,
    "rail_temperature": lambda: "70 degC",
    "raise_on_failure": lambda: False,
    "ratio": lambda: 20.0,
    "reading": lambda: "300 kPa",
    "reference": lambda: None,
    "regulator_temperature": lambda: 318.15,
    "relief_pressure": lambda: "6 bar",
    "repeats": lambda: 2,
    "requirements": lambda: fs.Requirements(),
    "result": lambda: lambda model: 1.0,
    "reynolds_number": lambda: 2e4,
    "richness": lambda: 1.0,
    "roughness": lambda: 1.5e-6,
    "rows": lambda: 3,
    "rpm": lambda: [1000.0, 3000.0],
    "run": run,
    "runs": lambda: [["tank", "pump", "feed", "rail"]],
    "saturation_pressure": lambda: 101325.0,
    "saturation_temperature": lambda: "20 degC",
    "schedule": schedule,
    "second": lambda: "least_margin",
    "shaft_power": lambda: 1000.0,
    "shape": lambda: (3, 2),
    "speed": lambda: 3000.0,
    "speeds": lambda: 3,
    "start": lambda: None,
    "start_altitude": lambda: 0.0,
    "start_temperature": lambda: "40 degC",
    "start_time": lambda: "10 h",
    "state": state,
    "stoichiometric_air_fuel_ratio": lambda: 14.6,
    "strainer_drop": lambda: "1 kPa",
    "sun": lambda: 1.0,
    "supply_voltage": lambda: 13.5,
    "system": system,
    "t10": lambda: None,
    "t50": lambda: None,
    "t90": lambda: None,
    "tables": lambda: {"13.5 V": {"flow": ["300 L/h", "200 L/h"], "pressure": ["1 bar", "4 bar"]}},
    "tank_rise": lambda: 5.0,
    "tank_temperature": lambda: "40 degC",
    "targets": lambda: [5.0],
    "temperature": lambda: "30 degC",
    "time_of_day": lambda: "12 h",
    "title": lambda: "mine",
    "type": lambda: "turbine",
    "unit": lambda: "kPa",
    "units": lambda: "SI",
    "up": lambda: "tank",
    "value": lambda: 3e5,
    "values": lambda: {},
    "vapour": lambda: "virial",
    "vapour_formed": lambda: 0.0,
    "vapour_liquid_ratio": lambda: 0.1,
    "vapour_liquid_temperature": lambda: None,
    "vapour_pressure": lambda: "60 kPa",
    "vapour_richness": lambda: None,
    "vapour_space": lambda: 1.0,
    "variants": lambda: None,
    "voltage": lambda: 13.5,
    "warming": lambda: False,
    "wear": lambda: 0.0,
    "wire": lambda: None,
    "wire_resistance": lambda: 0.05,
    "with_air": lambda: False,
    "workshop_temperature": lambda: "20 degC",
}
"""A right value of each argument by its name."""

OWN_ARGUMENTS = {
    ("boot_hole", "rpm"): lambda: 3000.0,
    ("pulsation", "rpm"): lambda: 6000.0,
    ("pressure_event", "before"): lambda: fs.Conditions(rpm=3000, load=0.2),
    ("pressure_event", "after"): lambda: fs.Conditions(rpm=3000),
    ("pressure_event", "duration"): lambda: "20 ms",
    ("pressure_event", "over"): lambda: "5 ms",
    ("pressure_event", "pulsing"): lambda: False,
    ("wave_along", "rpm"): lambda: 6000.0,
    ("wave_along", "rail"): lambda: None,
    ("ripple_remedies", "rpm"): lambda: 6000.0,
    ("ripple_remedies", "damper"): lambda: None,
    "adverse": lambda: 0,
    "calibration": lambda: None,
    "source": lambda: "memory",
    ("Car.with_plumbing", "name"): lambda: "mine",
    ("Conditions.grid", "axes"): lambda: [1000.0, 2000.0],
    ("Climate.plot", "others"): lambda: fs.hot_day("london"),
    ("Fuel.plot", "others"): fuel,
    ("Fuel.plot", "what"): lambda: "distillation",
    ("Pump.plot", "system"): lambda: None,
    ("Pump.plot", "rpm"): lambda: 3000.0,
    ("Run.plot", "others"): run,
    ("Fuel.named", "name"): lambda: "summer_e10",
    ("Fuel.of_class", "name"): lambda: "EN 228 A",
    ("Network.connect", "name"): lambda: "second",
    ("Network.add_node", "name"): lambda: "tee",
    ("Network.add_reservoir", "name"): lambda: "outside",
    ("Network.add_reservoir", "pressure"): lambda: 110e3,
    ("Network.solve", "draw"): lambda: {"rail": 2e-5},
    ("Network.frequency_response", "draw"): lambda: {"rail": 2e-5},
    ("Network.frequency_response", "node"): lambda: "rail",
    ("Network.transient", "draw"): lambda: {"rail": 2e-5},
    ("Network.transient", "duration"): lambda: "3 ms",
    ("Network.transient", "output_step"): lambda: None,
    ("Network.transient", "pressures"): lambda: {"tank": (["0 s", "1 ms"], ["110 kPa", "120 kPa"])},
    ("Network.solve", "start"): state,
    ("Network.draw", "state"): state,
    ("Pump.from_curve", "pressure"): lambda: ["1 bar", "4 bar"],
    ("Pump.from_curve", "current"): lambda: [4.0, 8.0],
    ("Pump.from_two_points", "first"): lambda: ("300 L/h", "1 bar"),
    ("Pump.from_two_points", "second"): lambda: ("200 L/h", "4 bar"),
    ("Pump.at", "speed"): lambda: None,
    ("margin_map", "axes"): lambda: {"altitude": [0.0, 1000.0]},
    ("leak_down", "duration"): lambda: "5 min",
    ("leak_down", "hot"): lambda: False,
    ("leak_down", "temperature"): lambda: "20 degC",
    ("leak_down", "check_valve_leak"): lambda: "0.4 mL/h",
    ("leak_down", "regulator_leak"): lambda: 0.0,
    ("leak_down", "injector_leak"): lambda: "0.1 mL/min",
    ("leak_down", "reseat_step"): lambda: "28 kPa",
    ("leak_down", "clamped"): lambda: "",
    ("leak_down", "inlet_dry"): lambda: False,
    ("prime", "lines"): lambda: "full",
    ("prime", "duration"): lambda: "1.5 s",
    ("prime", "pause"): lambda: "1 s",
    ("prime", "crank_time"): lambda: "1 s",
    ("prime", "voltage"): lambda: "12 V",
    ("prime", "crank_voltage"): lambda: "9.5 V",
    ("prime", "gauge_pressure"): lambda: "100 kPa",
    ("prime", "cooled_by"): lambda: "50 K",
    ("prime", "rail_temperature"): lambda: "90 degC",
    ("prime", "temperature"): lambda: "20 degC",
    ("prime", "constant_flow"): lambda: None,
    ("prime", "bleed_diameter"): lambda: "0.5 mm",
    ("prime", "reseat_step"): lambda: "28 kPa",
    ("hot_restart", "soak_time"): lambda: "20 min",
    ("hot_restart", "prime_time"): lambda: "2 s",
    ("hot_restart", "voltage"): lambda: "12 V",
    ("hot_restart", "crank_voltage"): lambda: "9.5 V",
    ("hot_restart", "leak_flow"): lambda: "1 mL/h",
    ("hot_restart", "bleed_diameter"): lambda: 0.0,
    ("hot_restart", "peak_bay_rise"): lambda: "60 K",
    ("hot_restart", "remedies"): lambda: False,
    ("which_leak", "readings"): lambda: {"0 min": "372 kPa", "10 min": "359 kPa", "60 min": "310 kPa"},
    ("which_leak", "feed_clamped"): lambda: None,
    ("which_leak", "return_clamped"): lambda: None,
    ("which_leak", "running_pressure"): lambda: "400 kPa",
    ("which_leak", "noise"): lambda: "2 kPa",
    ("which_leak", "temperature"): lambda: "20 degC",
    ("manoeuvre", "name"): lambda: "braking",
    ("manoeuvre", "car"): planned_car,
    ("pot_cover", "car"): planned_car,
    ("pot_cover", "run"): lambda: planned_car().system("return").solve(rpm=[800.0, 3000.0]),
    ("lock_temperatures", "inputs"): lambda: (),
    ("lock_temperatures", "conditions"): lambda: fs.Conditions(rpm=800.0, load=0.0),
    ("margin_map", "rpm"): lambda: 900.0,
    ("remedies", "conditions"): lambda: {"rpm": 800.0},
    ("sensitivity", "conditions"): lambda: None,
    ("sensitivity", "rpm"): lambda: 3000.0,
    ("what_if", "conditions"): lambda: None,
    ("what_if", "rpm"): lambda: 3000.0,
    ("LockTemperatures.sentence", "index"): lambda: (),
    ("State.take", "points"): lambda: np.array([0]),
    ("Sizing.objective", "name"): lambda: "pump_power",
    ("Pump.from_two_points", "relief_pressure"): lambda: "9 bar",
    ("Outcome.mapped", "function"): lambda: np.copy,
    ("Pump.from_file", "path"): lambda: bench_file(),
    ("Network.from_inp", "path"): lambda: network_file(),
    ("BandInput", "name"): lambda: "feed.bore",
    ("BandInput", "values"): lambda: (7e-3, 8e-3, 9e-3),
    ("BandInput", "kind"): lambda: "bore",
    ("Fuel", "names"): lambda: ("isopentane", "isooctane"),
    ("Fuel", "fractions"): lambda: (0.4, 0.6),
    ("typical_phase", "kind"): lambda: "motorway",
    ("event_band", "inputs"): lambda: fs.band_inputs(car())[:1],
    ("sensitivity", "inputs"): lambda: None,
    ("tank_difference", "inputs"): lambda: None,
    ("uncertainty", "inputs"): lambda: {"feed.bore": ("7 mm", "8 mm")},
    ("uncertainty", "conditions"): lambda: None,
    ("uncertainty", "rpm"): lambda: [3000.0],
    ("uncertainty", "load"): lambda: 1.0,
    ("uncertainty", "samples"): lambda: 64,
    ("uncertainty", "seed"): lambda: 1,
    ("uncertainty", "method"): lambda: "sobol",
    ("uncertainty", "measures"): lambda: [],
    ("uncertainty", "requirements"): lambda: None,
    ("uncertainty", "indices"): lambda: False,
    ("diagnose", "readings"): lambda: {"rpm": 3000.0, "rail_pressure [kPa]": 300.0},
    ("steady_stretches", "log"): lambda: {"n": [3000.0] * 30, "l": [1.0] * 30, "p": [300.0] * 30},
    ("steady_stretches", "columns"): lambda: {"rpm": "n", "load": "l", "rail_pressure [kPa]": "p"},
    ("steady_stretches", "least_rows"): lambda: 20,
    ("steady_stretches", "rpm_band"): lambda: "100 rpm",
    ("steady_stretches", "load_band"): lambda: "5 %",
    ("hidden_fault", "name"): lambda: "one",
    ("diagnose", "causes"): lambda: fs.causes_of(system())[:2],
    ("diagnose", "tolerances"): lambda: [],
    ("calibrate", "readings"): lambda: {"rpm": [3000.0, 4000.0], "rail_pressure [kPa]": [300.0, 300.0]},
    ("calibrate", "keys"): lambda: ["feed.bore"],
    ("Reading", "quantity"): lambda: "rail_pressure",
    ("Reading", "value"): lambda: 3e5,
    ("Reading", "uncertainty"): lambda: 5e3,
    ("Reading", "at"): lambda: {"rpm": 3000.0},
    ("Reading", "changes"): lambda: {},
    ("Reading", "gauge"): lambda: "gauge",
    ("UncertainInput", "name"): lambda: "bore",
    ("UncertainInput", "kind"): lambda: "bore",
    ("UncertainInput", "values"): lambda: {"feed.bore": fs.band_inputs(car())[0].band},
    ("UncertainInput", "added"): lambda: False,
    ("UncertainInput.at", "shares"): lambda: [0.1, 0.9],
    ("UncertainInput.from_band", "item"): lambda: fs.band_inputs(car())[0],
    ("Outcome.at", "points"): lambda: np.array([0]),
    ("questions", "about"): lambda: "pump",
    ("catalogue", "kind"): lambda: "pumps",
    ("can_stay", "part"): lambda: "feed",
    ("clogging_of", "flow"): lambda: "120 L/h",
    ("line_for_loss", "flow"): lambda: "120 L/h",
    ("set_pressure_for", "flow"): lambda: "260 mL/min",
    ("Run.while_running", "values"): lambda: np.array([1.0, 2.0]),
    ("vary", "values"): lambda: ["7 mm", "8 mm"],
    ("vary", "key"): lambda: "feed.bore",
    ("Car.value_of", "key"): lambda: "feed.bore",
    ("Car.kind_of", "name"): lambda: "pump",
    ("Car.part", "name"): lambda: "pump",
    ("Car.table_of", "name"): lambda: "pump",
    ("Car.named", "name"): lambda: "heron",
    ("over_bands", "kind"): lambda: "volume",
    ("Fuel.vapour_pressure_at_ratio", "ratio"): lambda: 4.0,
    ("PumpStage.staged_on", "value"): lambda: 2e-5,
    ("prefer_units", "units"): lambda: "metric workshop",
    ("read_car", "path"): lambda: car_file(),
    ("drive", "uncertainty"): lambda: False,
    ("compare", "uncertainty"): lambda: False,
    ("over_climates", "uncertainty"): lambda: False,
    ("hand_over", "uncertainty"): lambda: False,
    ("compare", "rpm"): lambda: [1000.0, 3000.0],
    ("compare", "supply_voltage"): lambda: None,
    ("Fuel.weathered_in_tank", "temperature"): lambda: ["15 degC", "30 degC"],
    ("Conditions.spread", "shape"): lambda: (3, 2),
    ("Fuel.family_fraction", "families"): lambda: "aromatic",
}
"""Right values where one function means something else by a name."""


def right_argument(function, name):
    """Return a right value of an argument of a public function."""
    owner, _, member = function.partition(".")
    if member == "value_of" and owner != "Car":
        return next(iter(declarations(getattr(fs, owner))))
    if member == "named" and hasattr(getattr(fs, owner), "catalogue_kind"):
        return catalogue_names(getattr(fs, owner).catalogue_kind)[0]
    made = OWN_ARGUMENTS.get((function, name)) or ARGUMENTS.get(name)
    if made is None:
        raise KeyError(f"{function} has an argument {name!r}: give it a right value in tests/public_values.py")
    return made()
