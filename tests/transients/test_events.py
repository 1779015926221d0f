"""Events of a drive out of given signals: when, of which part, and what is told."""

from __future__ import annotations

import numpy as np
import pytest

from fuelsim.transients.events import EventName, Signals, find_events, first_crossing
from fuelsim.transients.tank_equations import Stop

TIME = np.array([0.0, 60.0, 120.0, 180.0, 240.0])


def steady(value):
    return np.full(TIME.shape, float(value))


def signals(**changes):
    """A drive in which nothing happens."""
    calm = {
        "time": TIME,
        "suction_margin": {"pump": steady(5e3)},
        "pump_margin": {"pump": steady(10.0)},
        "rail_margin": {"rail": steady(20.0)},
        "tank_temperature": np.array([300.0, 302.0, 304.0, 306.0, 308.0]),
        "boiling_temperature": steady(324.0),
        "over_vapour_limit": {"pump": np.zeros(5, dtype=bool)},
        "engine_state": np.full(5, "fed", dtype=object),
        "stops": (),
        "pick_up_bare": False,
        "npsh_required": {"pump": 3e3},
        "pot_level": {},
        "pot_empty": {},
    }
    return Signals(**{**calm, **changes})


def told(**changes):
    return [(event.name, event.time, event.part) for event in find_events(signals(**changes))]


def test_nothing_happens_in_a_calm_drive():
    assert find_events(signals()) == []


FALLING = np.array([4.0, 2.0, -2.0, -6.0, -8.0])
"""Falls through zero halfway between the second time and the third, at 90 s."""


@pytest.mark.parametrize(
    ("changes", "name", "part"),
    [
        ({"suction_margin": {"pump": FALLING}}, EventName.NOISE, "pump"),
        ({"pump_margin": {"pump": FALLING}}, EventName.PUMP_MARGIN_GONE, "pump"),
        ({"rail_margin": {"rail": FALLING}}, EventName.RAIL_MARGIN_GONE, "rail"),
        ({"pot_level": {"pot": 0.25 + FALLING}}, EventName.POT_LOW, "pot"),
        ({"boiling_temperature": signals().tank_temperature + 0.15 + FALLING}, EventName.TANK_BOILS, "tank"),
    ],
)
def test_a_margin_that_falls_below_zero_is_an_event_of_its_part_at_the_crossing(changes, name, part):
    """On straight lines between the times shown: from 2 to -2 within a minute is zero after half of it (by hand)."""
    assert told(**changes) == [(name, pytest.approx(90.0), part)]


def test_a_state_begins_with_the_first_time_that_shows_it():
    over = np.array([False, False, True, True, False])
    assert told(over_vapour_limit={"pump": over}) == [(EventName.OVER_VAPOUR_LIMIT, 120.0, "pump")]
    lean = np.array(["fed", "", "fed", "lean", "stopped"], dtype=object)
    assert told(engine_state=lean) == [(EventName.LEAN, 180.0, "")]


def test_stops_are_told_by_their_cause_and_restarts_with_the_time_waited():
    stops = (Stop(50.0, True, "vapour at the pump", 170.0), Stop(200.0, False, "the pump gives no more"))
    assert told(stops=stops) == [
        (EventName.VAPOUR_LOCK, 50.0, ""),
        (EventName.RESTARTS, 170.0, ""),
        (EventName.ENGINE_STOPS, 200.0, ""),
    ]
    statements = [event.statement for event in find_events(signals(stops=stops))]
    # The tank warms by 2 K a minute from 300 K: 301.7 K, or 28.5 degC, after 50 s.
    assert statements[0].startswith("vapour at the pump; the tank is at 28.5")
    assert "after 2 min" in statements[1]


def test_an_empty_pot_is_told_at_the_first_time_it_is_empty():
    empty = np.array([False, False, True, True, True])
    assert told(pot_level={"pot": steady(1.0)}, pot_empty={"pot": empty}) == [(EventName.POT_EMPTY, 120.0, "pot")]
    assert told(pot_level={"pot": steady(1.0)}, pot_empty={"pot": np.zeros(5, dtype=bool)}) == []


def test_a_drive_that_ends_for_want_of_fuel_says_so_at_its_end():
    assert told(pick_up_bare=True) == [(EventName.FUEL_EXHAUSTED, 240.0, "")]


def test_events_come_in_order_of_time_and_several_parts_are_told_apart():
    later = np.array([4.0, 4.0, 4.0, 2.0, -2.0])
    both = {"left": later, "right": FALLING}
    events = find_events(
        signals(
            pump_margin=both,
            rail_margin=both,
            suction_margin={"right": later},
            over_vapour_limit={name: np.zeros(5, dtype=bool) for name in both},
            npsh_required=dict.fromkeys(both, 3e3),
        )
    )
    assert [(event.name, event.part) for event in events] == [
        (EventName.PUMP_MARGIN_GONE, "right"),
        (EventName.RAIL_MARGIN_GONE, "right"),
        (EventName.PUMP_MARGIN_GONE, "left"),
        (EventName.NOISE, "right"),
        (EventName.RAIL_MARGIN_GONE, "left"),
    ]
    assert [event.time for event in events] == pytest.approx([90.0, 90.0, 210.0, 210.0, 210.0])
    assert "the pump 'right'" in events[0].statement
    assert "the rail 'left'" in events[4].statement
    (alone,) = find_events(signals(pump_margin={"pump": FALLING}))
    assert "the pump's inlet" in alone.statement
    assert str(alone).startswith("2 min, pump margin gone: ")


@pytest.mark.parametrize(
    ("margin", "when"),
    [
        ([1.0, 1.0, -3.0], 12.5),
        ([-1.0, 1.0, -3.0], 0.0),
        ([1.0, np.nan, -3.0], 20.0),
        ([1.0, 0.0, -3.0], 10.0),
        ([1.0, 0.0, 3.0], None),
        ([np.nan, np.nan, np.nan], None),
    ],
)
def test_a_crossing_is_found_on_straight_lines_and_nothing_is_made_up_where_nothing_is_known(margin, when):
    assert first_crossing([0.0, 10.0, 20.0], margin) == (None if when is None else pytest.approx(when))
