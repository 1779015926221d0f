"""The least line size beside the rule of thumb "3/8 in at least" (common practice, no source).

``python tests/questions/least_lines.py`` prints the table. Steel tube by its true bore; each place is sized alone with
3/8 in (suction 5/8 in) in the others, on 60 operating points from cold to a hot day, new and worn.
"""

import pandas as pd

import fuelsim as fs

BORES = {"1/4 in": 4.93e-3, "5/16 in": 6.52e-3, "3/8 in": 8.10e-3, "1/2 in": 10.92e-3, "5/8 in": 14.1e-3}
"""Steel tube of 0.028 in wall up to 3/8 in, 0.035 in above, the listed walls of welded fuel tube [sae_j526]."""
COMMON = {
    "engine.peak_power_speed": "5400 rpm",
    "engine.brake_specific_fuel_consumption": "304 g/kWh",  # 0.50 lb/hp/h, trade guides
    "filter.rated_flow": "400 L/h",
    "filter.rated_drop": "20 kPa",
    "wire.size": "10 AWG",
    "wire.fuse_rating": "30 A",
    "feed.length": "4.5 m",
    "return_line.length": "4.5 m",
    "feed.bore": BORES["3/8 in"],
    "return_line.bore": BORES["3/8 in"],
}
ENGINES = {
    "120 hp": {
        "engine.peak_power": "120 hp",
        "engine.displacement": "2.0 L",
        "engine.cylinders": 4,
        "injectors.count": 4,
        "injectors.static_flow": "440 mL/min",
    },
    "400 hp": {
        "engine.peak_power": "400 hp",
        "engine.displacement": "5.5 L",
        "engine.cylinders": 8,
        "injectors.count": 8,
        "injectors.static_flow": "650 mL/min",
    },
}
PUMPS = {
    ("120 hp", "petrol"): ("in_tank_130", "external_roller"),
    ("120 hp", "E85"): ("in_tank_130", "external_roller"),
    ("400 hp", "petrol"): ("in_tank_300", "external_roller_competition"),
    ("400 hp", "E85"): ("in_tank_300", "external_roller_competition"),
}
"""In the tank, and outside. At -20 degC a turbine of 220 L/h leaves less than the prudent bypass to 400 hp."""
FUELS = {"petrol": "summer_e10", "E85": "e85"}
PLACES = (
    ("feed, regulator after the rail", "return", "feed", 0),
    ("return line", "return", "return_line", 0),
    ("feed, regulator at the tank", "returnless_tank", "feed", 0),
    ("suction of an outside pump", "return", "suction", 1),
)


def car_for(engine, fuel, outside):
    base = fs.Car.named("heron")
    changes = COMMON | ENGINES[engine] | {"pump": fs.Pump.named(PUMPS[engine, fuel][outside]), "fuel.name": FUELS[fuel]}
    if outside:
        return base.with_values(changes | {"suction.bore": BORES["5/8 in"]})
    return base.with_pump_in_tank().with_values(changes)


def sized(engine, fuel, layout, place, outside):
    """Return the least size that holds what must hold, and the least without a warning about this place."""
    result = fs.size(car_for(engine, fuel, outside), layout, {f"{place}.bore": list(BORES.values())}, progress=False)
    names = list(BORES)
    about = {"feed": ["feed_velocity"], "return_line": ["return_velocity"]}
    watched = about.get(place, ["suction_velocity", "suction_margin", "suction_depression"])
    columns = [number for number, (rule, _) in enumerate(result.rules) if rule.name in watched]
    quiet = result.meets & (result.margin[:, columns] >= 0.0).all(axis=1)
    first = [
        next((names[index] for index in range(len(names)) if mask[index]), "none") for mask in (result.meets, quiet)
    ]
    return first, result


def table():
    rows = []
    for engine, fuel in PUMPS:
        row = {"engine": f"{engine}, {fuel}"}
        for name, layout, place, outside in PLACES:
            (must, quiet), _ = sized(engine, fuel, layout, place, outside)
            row[name] = must if must == quiet else f"{must} ({quiet})"
        rows.append(row)
    return pd.DataFrame(rows).set_index("engine")


if __name__ == "__main__":
    with pd.option_context("display.width", 200, "display.max_columns", 9):
        print("Least size on which all that must hold holds (in brackets: the least without a warning)")
        print(table().to_string())
