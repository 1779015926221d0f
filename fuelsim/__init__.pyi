"""The public names of fuelsim, each with the module that holds it: the only list of them.

Type checkers and editors read this file; so does ``fuelsim/__init__.py``, which loads a module when a name of it is
first used.
"""

from fuelsim.car.car import Car as Car
from fuelsim.car.climate import Climate as Climate
from fuelsim.car.climate import hot_day as hot_day
from fuelsim.car.engine import Engine as Engine
from fuelsim.car.floor_plan import Plan as Plan
from fuelsim.car.heat_parts import Cooler as Cooler
from fuelsim.car.heat_parts import Pot as Pot
from fuelsim.car.heat_parts import SurgePot as SurgePot
from fuelsim.car.read import read_car as read_car
from fuelsim.car.tables import PlacedReducer as PlacedReducer
from fuelsim.car.tables import PlacedRegulator as PlacedRegulator
from fuelsim.car.tables import PlumbedLine as PlumbedLine
from fuelsim.car.tables import Rail as Rail
from fuelsim.car.write import write_car as write_car
from fuelsim.errors import FuelsimError as FuelsimError
from fuelsim.errors import InputError as InputError
from fuelsim.errors import RangeError as RangeError
from fuelsim.errors import SolveError as SolveError
from fuelsim.finding import Finding as Finding
from fuelsim.finding import Severity as Severity
from fuelsim.fuel.fuel import Fuel as Fuel
from fuelsim.fuel.lighting import lighting_temperature as lighting_temperature
from fuelsim.fuel.lighting import vapour_to_light as vapour_to_light
from fuelsim.fuel.model_band import model_band as model_band
from fuelsim.fuel.water import water_held as water_held
from fuelsim.laws.liquid import Liquid as Liquid
from fuelsim.network.network import Network as Network
from fuelsim.network.state import State as State
from fuelsim.outcome import Outcome as Outcome
from fuelsim.outcome import OutcomeCode as OutcomeCode
from fuelsim.parts.check_valve import CheckValve as CheckValve
from fuelsim.parts.filter import Filter as Filter
from fuelsim.parts.fittings import Fitting as Fitting
from fuelsim.parts.injectors import Injectors as Injectors
from fuelsim.parts.line import Line as Line
from fuelsim.parts.line_size import LineSize as LineSize
from fuelsim.parts.orifice import Orifice as Orifice
from fuelsim.parts.pump.control import PumpControl as PumpControl
from fuelsim.parts.pump.control import PumpStage as PumpStage
from fuelsim.parts.pump.controlled_pump import ControlledPump as ControlledPump
from fuelsim.parts.pump.pump import Pump as Pump
from fuelsim.parts.regulator import ReducingRegulator as ReducingRegulator
from fuelsim.parts.regulator import ReturnRegulator as ReturnRegulator
from fuelsim.parts.supply import PumpSteps as PumpSteps
from fuelsim.parts.supply import Supply as Supply
from fuelsim.parts.tank_parts import JetPump as JetPump
from fuelsim.parts.tank_parts import TankVent as TankVent
from fuelsim.parts.valves import FlowControlValve as FlowControlValve
from fuelsim.parts.valves import LossCurve as LossCurve
from fuelsim.parts.valves import ShutOffValve as ShutOffValve
from fuelsim.parts.valves import ThrottleValve as ThrottleValve
from fuelsim.parts.wire import Wire as Wire
from fuelsim.show.source_tables import source_table as source_table
from fuelsim.show.source_tables import unknown_figures as unknown_figures
from fuelsim.studies.altitude import boiling_temperature as boiling_temperature
from fuelsim.studies.assessment import assess as assess
from fuelsim.studies.bands import BandInput as BandInput
from fuelsim.studies.bands import band_inputs as band_inputs
from fuelsim.studies.bands import event_band as event_band
from fuelsim.studies.bands import over_bands as over_bands
from fuelsim.studies.climates import over_climates as over_climates
from fuelsim.studies.cold_start import cold_start as cold_start
from fuelsim.studies.commissioning import hand_over as hand_over
from fuelsim.studies.compare import compare as compare
from fuelsim.studies.drop_split import split_drop as split_drop
from fuelsim.studies.findings import findings as findings
from fuelsim.studies.margins import margin_map as margin_map
from fuelsim.studies.proving import proving_conditions as proving_conditions
from fuelsim.studies.remedies import remedies as remedies
from fuelsim.studies.requirements import Requirements as Requirements
from fuelsim.studies.sensitivity import sensitivity as sensitivity
from fuelsim.studies.size import size as size
from fuelsim.studies.sizing import Sizing as Sizing
from fuelsim.studies.tank_difference import tank_difference as tank_difference
from fuelsim.studies.vary import vary as vary
from fuelsim.studies.what_if import what_if as what_if
from fuelsim.system.conditions import Conditions as Conditions
from fuelsim.system.manoeuvre import manoeuvre as manoeuvre
from fuelsim.system.manoeuvre import pot_cover as pot_cover
from fuelsim.system.run import Run as Run
from fuelsim.transients.drive import drive as drive
from fuelsim.transients.residual_pressure import residual_pressure_needed as residual_pressure_needed
from fuelsim.transients.schedule import Phase as Phase
from fuelsim.transients.schedule import Schedule as Schedule
from fuelsim.transients.schedule import typical_phase as typical_phase
from fuelsim.transients.soak import hot_soak as hot_soak
from fuelsim.units import from_si as from_si
from fuelsim.units import prefer_units as prefer_units
from fuelsim.units import si as si

__version__: str
__all__: list[str]
