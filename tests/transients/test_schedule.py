"""Schedules and phases of ordinary driving."""

from __future__ import annotations

import pytest

import fuelsim as fs
from fuelsim.transients.schedule import Phase, Schedule, typical_phase


@pytest.fixture(scope="module")
def finch():
    return fs.Car.named("finch")


@pytest.mark.parametrize(
    ("kind", "slowest", "fastest"),
    [("city", 15.0, 50.0), ("motorway", 90.0, 130.0), ("climb", 30.0, 80.0), ("jam", 0.5, 6.0)],
)
def test_typical_speeds_are_those_of_the_road(finch, kind, slowest, fastest):
    """Ranges in km/h of what such a road or such traffic allows (common practice, no source)."""
    phase = typical_phase(kind, "10 min", finch)
    assert slowest < 3.6 * float(phase.vehicle_speed) < fastest
    assert (phase.name, phase.duration, phase.engine) == (kind, 600.0, "running")


def test_a_jam_idles_and_other_driving_turns_at_a_share_of_the_red_line_but_never_below_idle(finch):
    jam, city, motorway = (typical_phase(kind, "10 min", finch) for kind in ("jam", "city", "motorway"))
    assert (jam.rpm, jam.load) == (800.0, 0.0)
    assert 800.0 < city.rpm < motorway.rpm < 6500.0
    assert motorway.rpm == pytest.approx(0.5 * 6500.0)
    slow = finch.with_values({"engine.idle_speed": "2200 rpm"})
    assert typical_phase("city", "10 min", slow).rpm == 2200.0  # above 0.32 x 6500
    climb = typical_phase("climb", "10 min", finch)
    assert climb.load > motorway.load > city.load > 0.0


def test_what_is_given_of_a_typical_phase_is_kept(finch):
    given = {"end_altitude": 500.0, "pump_duty": 0.6, "sun": 0.3, "air_conditioning": 0.7, "creep_power": 1500.0}
    phase = typical_phase("jam", "10 min", finch, **given)
    assert {name: getattr(phase, name) for name in given} == given
    stop = typical_phase("stop", "10 min", finch, end_altitude=500.0, sun=0.3)
    assert (stop.engine, stop.end_altitude, stop.sun) == ("stopped", 500.0, 0.3)


def test_phases_begin_where_the_one_before_ends():
    day = Schedule.of([Phase(name=name, duration=seconds) for name, seconds in (("a", 90.0), ("b", 30.0), ("c", 45.0))])
    assert day.starts.tolist() == [0.0, 90.0, 120.0, 165.0]
    assert day.duration == 165.0
    assert (day.start_time, day.start_altitude) == (36000.0, None)
    assert Schedule(day.phases).start_time == 36000.0
    assert day.headline.startswith("a ")
    assert Schedule.of(day.phases, start_time="7 h", start_altitude="300 m").start_altitude == 300.0


def test_a_schedule_without_phases_is_refused():
    with pytest.raises(fs.InputError, match="no phases"):
        Schedule(())
