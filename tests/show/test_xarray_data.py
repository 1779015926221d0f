"""Results as xarray datasets: axes by name, units, and the same numbers."""

import dataclasses
import subprocess
import sys

import numpy as np
import pytest

import fuelsim as fs
from fuelsim.show.xarray_data import VARIABLES
from fuelsim.transients.drive_results import Drive
from fuelsim.transients.hot_restart import HotRestart
from fuelsim.transients.leak_down import LeakDown
from fuelsim.transients.prime import Prime
from fuelsim.transients.soak import Soak

xarray = pytest.importorskip("xarray")
FINCH = fs.Car.named("finch")
NOT_OVER_THE_AXES = {
    *("plumbing", "conditions", "at_stop", "by_rail", "outcome", "solved", "as_solved", "layout", "time"),
    *("heat_sources", "events", "ledger", "mass_error", "interpolation_error", "completion", "restart"),
    *("shut_in_volume", "pressure_before", "lowest_pressure", "lost", "elastic_volume", "pressure_per_kelvin"),
    *("limits", "check_valve_assumed", "samples"),
    *("lines", "set_pressure", "volume", "seconds_to_pressure", "seconds_to_liquid", "liquid_band", "moved_by_prime"),
    *("left_by_prime", "rated_flow", "shares", "soak_time", "before_temperature", "before_pressure", "before_vapour"),
    *("prime_time", "times", "quickest", "slowest", "remedies"),
}


def test_conditions_that_vary_alone_are_axes_with_units():
    run = FINCH.system("return").solve(
        fs.Conditions(rpm=np.array([[1000.0], [3000.0], [6000.0]]), load=0.5, tank_temperature=[293.15, 313.15])
    )
    data = run.to_xarray()
    assert data["pressure"].dims == ("station", "rpm", "tank_temperature")
    assert data["rpm"].attrs["units"] == "rpm"
    assert data["tank_temperature"].attrs["units"] == "K"
    assert float(data["load"]) == 0.5
    assert data["pressure"].attrs["units"] == "Pa"
    picked = data["pressure"].sel(station="rail", rpm=3000.0, tank_temperature=313.15)
    assert float(picked) == run.pressure["rail"][1, 1]
    assert float(data["pump_current"].sel(pump="pump").max()) == run.pump_current["pump"].max()


def test_conditions_that_vary_together_are_one_axis():
    data = FINCH.system("return").solve(rpm=[1000, 6000], load=[0.2, 1.0]).to_xarray()
    assert data["bypass_flow"].dims == ("rpm",)
    assert data["load"].dims == ("rpm",)
    single = FINCH.system("return").solve(rpm=3000).to_xarray()
    assert single["bypass_flow"].dims == ()
    random = FINCH.system("return").solve(rpm=[[1000, 2000], [3000, 4000]]).to_xarray()
    assert random["bypass_flow"].dims == ("point_0", "point_1")
    assert random["rpm"].dims == ("point_0", "point_1")


def test_drives_soaks_maps_and_comparisons_have_their_axes():
    jam = fs.Schedule.of([fs.typical_phase("jam", "10 min", FINCH)])
    assert fs.drive(FINCH, "return", jam).to_xarray()["temperature"].dims == ("station", "time")
    assert fs.hot_soak(FINCH, "return", duration="20 min").to_xarray()["rail_temperature"].dims == ("time",)
    assert fs.leak_down(FINCH, "return").to_xarray()["gauge_pressure"].dims == ("time",)
    limits = fs.margin_map(FINCH, "return", {"altitude": [0.0, 2000.0]}).to_xarray()["limit"]
    assert limits.dims == ("station", "altitude")
    compared = fs.compare(FINCH, rpm=[1000, 6000], tank_temperature=["20 degC", "40 degC"])
    data = compared.to_xarray()
    assert set(data["pressure"].dims) == {"layout", "station", "rpm", "tank_temperature"}
    rail = data["pressure"].sel(layout="returnless_tank", station="rail", rpm=6000.0, tank_temperature=313.15)
    assert float(rail) == compared.full_load["returnless_tank"].pressure["rail"][1, 1]


@pytest.mark.parametrize("kind", [fs.Run, Drive, HotRestart, LeakDown, Prime, Soak], ids=lambda kind: kind.__name__)
def test_every_variable_of_a_result_has_its_unit(kind):
    for item in dataclasses.fields(kind):
        assert item.name in VARIABLES or item.name in NOT_OVER_THE_AXES, item.name


def test_without_xarray_it_is_said_and_nothing_imports_it():
    code = (
        "import sys; sys.modules['xarray'] = None; import fuelsim as fs;"
        "run = fs.Car.named('finch').system('return').solve(rpm=3000);"
        "exec('try:\\n run.to_xarray()\\nexcept fs.InputError as error:\\n print(error)')"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert "xarray is not installed; accepted: pip install xarray" in done.stdout
