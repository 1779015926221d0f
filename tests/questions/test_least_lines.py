"""The least line size for an engine of 120 and one of 400 hp beside "3/8 in at least" (common practice, no source)."""

import pytest
from least_lines import BORES, PLACES, sized

FEED, RETURN, TANK_FEED, SUCTION = (place[1:] for place in PLACES)


@pytest.mark.parametrize(("layout", "place", "outside"), [FEED, RETURN, TANK_FEED])
def test_the_rule_wastes_on_the_pressure_side_of_a_120_hp_engine(layout, place, outside):
    (must, _), _ = sized("120 hp", "petrol", layout, place, outside)
    assert must == "1/4 in"


def test_behind_a_regulator_at_the_tank_a_quarter_inch_fails_at_400_hp():
    (must, quiet), result = sized("400 hp", "petrol", *TANK_FEED)
    assert must == quiet == "5/16 in"
    assert result.failed_requirement(0) == "rail_shortfall"
    assert result.worst["rail_shortfall"][0] > 0.10


def test_the_rule_holds_for_the_return_line_at_400_hp_if_its_velocity_is_to_stay_below_two_metres_a_second():
    (must, quiet), _ = sized("400 hp", "petrol", *RETURN)
    assert (must, quiet) == ("5/16 in", "3/8 in")


def test_the_rule_holds_barely_and_noisily_for_the_suction_of_an_outside_pump_at_400_hp():
    (must, quiet), result = sized("400 hp", "petrol", *SUCTION)
    assert must == "3/8 in"
    assert quiet == "none", "no bore gives the pump its NPSH from petrol at 45 degC"
    three_eighths = list(BORES).index("3/8 in")
    assert result.worst["suction_velocity"][three_eighths] > 1.0
    assert result.worst["suction_depression"][three_eighths] > 7e3


@pytest.mark.parametrize("place", [FEED, TANK_FEED])
def test_e85_never_asks_for_a_smaller_feed_than_petrol(place):
    """It takes 1.44 times the volume at equal lambda (computed from 14.7 and 9.75 kg of air per kg)."""
    sizes = [*BORES, "none"]
    for engine in ("120 hp", "400 hp"):
        petrol, ethanol = (sized(engine, fuel, *place)[0] for fuel in ("petrol", "E85"))
        assert sizes.index(ethanol[0]) >= sizes.index(petrol[0])
        assert sizes.index(ethanol[1]) >= sizes.index(petrol[1])
