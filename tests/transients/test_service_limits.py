"""Published limits of the pressure that is left after a stop, at their edges."""

from __future__ import annotations

import pytest

from fuelsim.transients.service_limits import SERVICE_TIME, service_limits


@pytest.mark.parametrize(("fall", "met"), [(54.9e3, True), (55.1e3, False)])
def test_at_most_55_kilopascals_are_lost_in_five_minutes(fall, met):
    """One maker's limit: 55 kPa within five minutes of the stop [service_manual_1990s_a]."""
    assert SERVICE_TIME == 5.0 * 60.0
    (only,) = service_limits(600e3, 400e3, 400e3 - fall)
    assert (only.met, only.value) == (met, pytest.approx(fall))
    assert only.limit == 55e3


@pytest.mark.parametrize(
    ("set_pressure", "least"),
    [(234e3, None), (235e3, 147e3), (275e3, 147e3), (276e3, None), (429e3, None), (430e3, 250e3), (510e3, 250e3)],
)
def test_least_pressures_hold_for_the_kinds_of_system_that_have_one(set_pressure, least):
    """147 kPa of 235 to 275, 250 kPa of 430 to 510, after five minutes [service_manuals_d]."""
    for left, met in ((146e3, False), (149e3, True)) if least == 147e3 else ((249e3, False), (250e3, True)):
        limits = service_limits(set_pressure, set_pressure, left)[1:]
        assert [(each.limit, each.met, each.value) for each in limits] == (
            [] if least is None else [(least, met, left)]
        )
