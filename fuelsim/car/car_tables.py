"""The tables of a car file: every field of a car, without what is done with them."""

from __future__ import annotations

from dataclasses import dataclass

from fuelsim.car.engine import Engine
from fuelsim.car.floor_plan import Plan
from fuelsim.car.fuel_choice import FuelChoice
from fuelsim.car.heat_parts import Cooler, Pot, SurgePot
from fuelsim.car.plumbing_description import PlumbingDescription
from fuelsim.car.surroundings import Surroundings
from fuelsim.car.tables import (
    PlacedReducer,
    PlacedRegulator,
    PlumbedLine,
    Rail,
    Tank,
)
from fuelsim.fields import Quantity, Ratings, origin, quantity, table, tables, text
from fuelsim.named_tables import NamedTables
from fuelsim.parts.check_valve import CheckValve
from fuelsim.parts.damper import Damper
from fuelsim.parts.filter import Filter
from fuelsim.parts.injectors import Injectors
from fuelsim.parts.orifice import Orifice
from fuelsim.parts.pump.control import PumpControl, PumpStage
from fuelsim.parts.pump.pump import Pump
from fuelsim.parts.supply import PumpSteps, Supply
from fuelsim.parts.tank_parts import JetPump
from fuelsim.parts.wire import Wire

__all__ = ["CarTables"]


@dataclass(frozen=True)
class CarTables(Ratings):
    """What stands in a car file: fuel, engine, tank and every part; a `Car` checks how they fit together.

    Examples
    --------
    >>> from fuelsim.declaration import declarations
    >>> declarations(CarTables)["wire"].unless
    'plumbing'
    """

    name: str = text("Name of the car.", empty=False, example="Heron")
    fuel: FuelChoice = table(FuelChoice, "Fuel in the tank.")
    engine: Engine = table(Engine, "Engine, and how much fuel it asks for.")
    tank: Tank = table(Tank, "Tank and the fuel in it.")
    strainer: Filter | None = table(Filter, "Suction strainer in the tank.", unless="plumbing")
    pump: Pump | None = table(Pump, "Electric fuel pump.", unless="plumbing")
    wire: Wire | None = table(Wire, "Wire of the pump with relay, fuse and ground.", unless="plumbing")
    filter: Filter | None = table(Filter, "Filter after the pump.", unless="plumbing")
    feed: PlumbedLine | None = table(PlumbedLine, "Feed line from the filter to the engine bay.", unless="plumbing")
    rail: Rail | None = table(Rail, "Fuel rail.", unless="plumbing")
    injectors: Injectors = table(Injectors, "Injectors of the engine.")
    suction: PlumbedLine | None = table(PlumbedLine, "Suction line from the tank to an external pump.", default=None)
    return_line: PlumbedLine | None = table(
        PlumbedLine, "Return line from a regulator in the bay to the tank.", default=None
    )
    bay_line: PlumbedLine | None = table(
        PlumbedLine,
        "Line from the regulator in the bay to a dead-ended rail; left out, 0.3 m of the feed's bore.",
        default=None,
    )
    rail_regulator: PlacedRegulator | None = table(
        PlacedRegulator, "The regulator at the end of the rail.", default=None
    )
    tank_regulator: PlacedRegulator | None = table(PlacedRegulator, "The regulator at the tank.", default=None)
    bay_regulator: PlacedRegulator | None = table(
        PlacedRegulator, "The regulator in the bay before the rail.", default=None
    )
    supply: Supply | None = table(
        Supply,
        "Voltage of battery and alternator over the engine's speed; left out, surroundings.supply_voltage at every "
        "speed.",
        default=None,
    )
    pump_steps: PumpSteps | None = table(
        PumpSteps,
        "Controller that slows the pump at low fuel demand; left out, the pump runs at full speed.",
        default=None,
    )
    pump_control: PumpControl | None = table(
        PumpControl, "Controller that holds a pressure by the speed or duty of the pump.", default=None
    )
    anti_siphon: CheckValve | None = table(
        CheckValve, "Anti-siphon valve between the tank and the suction line.", default=None
    )
    check_valve: CheckValve | None = table(
        CheckValve, "Check valve at the pump's outlet, where its loss is not in the pump's bench rows.", default=None
    )
    damper: Damper | None = table(Damper, "Pulsation damper on the rail.", default=None)
    cooler: Cooler | None = table(Cooler, "Cooler in the return line.", default=None)
    surge_pot: SurgePot | None = table(SurgePot, "Surge pot beside the pump, for drives.", default=None)
    plan: Plan | None = table(Plan, "Floor plan of the car: where tank and rail lie, for acceleration.", default=None)
    surroundings: Surroundings = table(
        Surroundings, "Weather, supply voltage and the air around the parts.", default=Surroundings()
    )
    plumbing: NamedTables[PlumbingDescription] = tables(
        PlumbingDescription, "Plumbings of the car's own, beside the standard layouts.", example="own"
    )
    pumps: NamedTables[Pump] = tables(Pump, "Pumps of the car's own plumbings, by name.", example="lift")
    wires: NamedTables[Wire] = tables(
        Wire,
        "Wires of pumps, by the pump's name; a pump without one has that of the table wire.",
        owners="pumps",
        example="lift",
    )
    pump_controls: NamedTables[PumpControl] = tables(
        PumpControl,
        "Controllers that hold a pressure by the speed or duty of pumps, by the pump's name.",
        owners="pumps",
        example="left_pump",
    )
    pump_stages: NamedTables[PumpStage] = tables(
        PumpStage,
        "Switches that add a pump where it is needed, by the pump's name.",
        owners="pumps",
        example="right_pump",
    )
    filters: NamedTables[Filter] = tables(
        Filter, "Filters and strainers of the car's own plumbings, by name.", example="lift_strainer"
    )
    lines: NamedTables[PlumbedLine] = tables(
        PlumbedLine, "Lines of the car's own plumbings, by name.", example="crossover"
    )
    rails: NamedTables[Rail] = tables(Rail, "Rails of the car's own plumbings, by name.", example="left_rail")
    check_valves: NamedTables[CheckValve] = tables(
        CheckValve, "Check valves of the car's own plumbings, by name.", example="left_check"
    )
    regulators: NamedTables[PlacedRegulator] = tables(
        PlacedRegulator, "Return regulators of the car's own plumbings, by name.", example="end_regulator"
    )
    reducers: NamedTables[PlacedReducer] = tables(
        PlacedReducer, "Reducing regulators of the car's own plumbings, by name.", example="reducer"
    )
    coolers: NamedTables[Cooler] = tables(Cooler, "Coolers of the car's own plumbings, by name.", example="fin_cooler")
    pots: NamedTables[Pot] = tables(Pot, "Pots of the car's own plumbings, by name.", example="pot")
    orifices: NamedTables[Orifice] = tables(
        Orifice, "Orifices of the car's own plumbings, such as bleeds, by name.", example="bleed"
    )
    jet_pumps: NamedTables[JetPump] = tables(JetPump, "Jet pumps of the car's own plumbings, by name.", example="jet")
    dampers: NamedTables[Damper] = tables(
        Damper, "Pulsation dampers on rails, by the rail's name.", owners="rails", example="left_rail"
    )
    about: str = text("Sentence on the car.", default="")
    pump_height: Quantity = quantity(
        "length", "Height of the pump above the tank's floor.", least=-1.0, most=2.0, default=0.05, example="0.1 m"
    )
    file: str | None = origin("File that the car was read from, for messages.")
