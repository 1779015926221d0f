"""Figures of fuels: drawn without pyplot, labelled with units, with a sentence that says what is seen."""

from __future__ import annotations

import subprocess
import sys

import pytest

from fuelsim.errors import InputError
from fuelsim.fuel.fuel import Fuel
from fuelsim.show import fuel_curves

E0, E10 = Fuel.named("summer_e0"), Fuel.named("summer_e10")
DRAWN = {
    "vapour pressure": lambda: fuel_curves.vapour_pressure_figure(
        [E10, E0], {"rail": (360.0, 4e5), "tank": (333.0, 1e5)}
    ),
    "vapour-liquid": lambda: fuel_curves.vapour_liquid_figure([E10, E0]),
    "blend": lambda: fuel_curves.blend_figure(E0),
    "distillation": lambda: fuel_curves.distillation_figure([E10, E0]),
    "altitude": lambda: fuel_curves.altitude_figure([E10, E0]),
}


@pytest.mark.parametrize("name", list(DRAWN))
def test_every_figure_has_units_on_its_axes_and_a_sentence(name: str) -> None:
    drawn = DRAWN[name]()
    for axis in drawn.axes:
        assert any(sign in axis.get_xlabel() for sign in ("°C", "%", "m ("))
        assert axis.get_ylabel()
    sentence = drawn.get_suptitle()
    assert sentence.endswith(".")
    assert any(character.isdigit() for character in sentence)
    dashes = {str(line.get_linestyle()) + str(line.get_marker()) for line in drawn.axes[0].get_lines()}
    assert len(dashes) > 1


def test_the_sentence_names_the_station_that_boils() -> None:
    words = DRAWN["vapour pressure"]().get_suptitle().replace("\n", " ")
    assert "Boiling with it: tank." in words


def test_drawing_needs_no_pyplot() -> None:
    code = (
        "import sys; from fuelsim.fuel.fuel import Fuel; from fuelsim.show.fuel_curves import distillation_figure;"
        "distillation_figure(Fuel.named('summer_e0')); print('matplotlib.pyplot' in sys.modules)"
    )
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"


def test_nothing_to_draw_is_said_so() -> None:
    with pytest.raises(InputError, match="no fuel to draw"):
        fuel_curves.distillation_figure([])
