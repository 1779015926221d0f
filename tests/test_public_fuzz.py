"""Whatever is given to a public function, it answers rightly or with one readable message, and soon."""

import inspect
import os
import pickle

import numpy as np
import public_fuzz
import public_values
import pytest

import fuelsim
from fuelsim.arguments import HOW_TO_GET

IN_EVERY_RUN, IN_A_LONG_RUN = 1_000, 60_000


@pytest.fixture
def faults_of(tmp_path, monkeypatch):
    """Return what is wrong with the outcomes of some misuses; files that they make are made elsewhere."""
    monkeypatch.chdir(tmp_path)

    def faults(misuses):
        found = [(*misuse, public_fuzz.fault_of(*misuse)) for misuse in misuses]
        return [misuse for misuse in found if misuse[-1]]

    return faults


def test_a_thousand_misuses_end_in_one_readable_message(faults_of):
    assert faults_of(public_fuzz.misuses()[:IN_EVERY_RUN]) == []


@pytest.mark.long
def test_every_misuse_ends_in_one_readable_message(faults_of):
    assert faults_of(public_fuzz.misuses()[:IN_A_LONG_RUN]) == []


def declared_numbers():
    """Yield function, argument and declaration of every quantity that a public function declares."""
    for name in public_fuzz.public_functions():
        owner, _, member = name.partition(".")
        thing = getattr(fuelsim, owner)
        function = inspect.getattr_static(thing, member) if member else thing
        function = getattr(function, "__func__", function)
        for argument, declaration in getattr(function, "declared", {}).items():
            if declaration.form in ("quantity", "series"):
                yield name, argument, declaration


def test_every_public_function_checks_its_arguments_by_the_decorator():
    """The units' own door stands above it, and `Conditions.grid` names its arguments by the fields of `Conditions`."""
    without = set()
    for name in public_fuzz.public_functions():
        owner, _, member = name.partition(".")
        function = inspect.getattr_static(getattr(fuelsim, owner), member) if member else getattr(fuelsim, owner)
        function = getattr(function, "__func__", function)
        if not inspect.isclass(function) and public_fuzz.arguments_of(name) and not hasattr(function, "declared"):
            without.add(name)
    assert without == {"Conditions.grid", "from_si", "prefer_units", "si"}


def test_every_number_of_a_public_function_has_a_plausible_range():
    numbers = list(declared_numbers())
    assert len(numbers) > 100
    without = [(name, argument) for name, argument, item in numbers if not np.isfinite([item.least, item.most]).all()]
    assert without == []


@pytest.mark.parametrize("name", sorted(set(HOW_TO_GET) - {"Executor", "Phase", "Plan", "Requirements"}))
def test_a_message_says_how_to_get_what_is_wanted(name):
    """What stands there is a call that gives an object of that class, whatever stands for the user's own objects."""
    known = {
        "fs": fuelsim,
        "car": public_values.car(),
        "system": public_values.system(),
        "fuel": public_values.fuel(),
        "net": public_values.network(),
        "liquid": public_values.liquid(),
    }
    for call in HOW_TO_GET[name].removeprefix("one of ").split(" or "):
        if "another part" in call or "my_car" in call or "(...)" in call:
            continue
        made = eval(call, known)
        classes = [item.__name__ for item in type(made[0] if isinstance(made, tuple) else made).__mro__]
        assert name in classes, call


def test_a_wrong_class_is_told_what_was_given_and_how_to_get_the_right_one():
    with pytest.raises(fuelsim.InputError) as told:
        fuelsim.compare("heron")
    assert str(told.value) == (
        "compare(), argument 'car': not a Car; given 'heron'; "
        "accepted: a Car, as in fs.Car.named('heron') or fs.read_car('my_car.toml')"
    )


def test_a_temperature_in_degrees_without_a_unit_is_refused_with_what_to_write():
    with pytest.raises(fuelsim.InputError, match=r"Engine.demand\(\), argument 'air_temperature'.*write '25 degC'"):
        public_values.car().engine.demand(3000, air_temperature=25)


def test_text_with_a_unit_is_understood_by_methods_of_parts():
    engine = public_values.car().engine
    in_text = engine.demand("3000 rpm", "80 %", air_temperature="25 degC", atmospheric_pressure="101.325 kPa")
    assert in_text.fuel_mass_flow == pytest.approx(engine.demand(3000.0, 0.8).fuel_mass_flow, rel=1e-12)


def test_lists_that_do_not_fit_together_are_named():
    with pytest.raises(
        fuelsim.InputError, match=r"pressure_difference of shape \(2,\) does not fit voltage of shape \(3,\)"
    ):
        public_values.shared_object("Injectors").opening_loss([12.0, 13.0, 14.0], [3e5, 4e5])


@pytest.mark.parametrize("study", [fuelsim.what_if, fuelsim.sensitivity])
def test_conditions_and_a_speed_together_are_refused(study):
    changes = ({"wide": {"feed.bore": "10 mm"}},) if study is fuelsim.what_if else ()
    with pytest.raises(fuelsim.InputError, match="conditions and rpm together"):
        study(public_values.system(), *changes, conditions=fuelsim.Conditions(rpm=3000.0), rpm=2000.0)


def test_results_of_studies_of_measures_pickle():
    gains = fuelsim.what_if(public_values.system(), {"wide": {"feed.bore": "10 mm"}}, rpm=3000.0)
    again = pickle.loads(pickle.dumps(gains))
    assert again.measures == gains.measures
    assert again.changed.tolist() == gains.changed.tolist()


@pytest.mark.parametrize("name", ["", "   ", "\t"])
def test_a_car_without_a_name_is_refused(name):
    with pytest.raises(fuelsim.InputError, match="key 'name'"):
        public_values.car().with_values({"name": name})


def test_masked_values_are_refused_and_not_used():
    speeds = np.ma.masked_array([800.0, 3000.0], mask=[False, True])
    with pytest.raises(fuelsim.InputError, match="masked"):
        fuelsim.Conditions(rpm=speeds)


def test_more_operating_points_than_a_machine_takes_are_refused_with_what_to_do():
    with pytest.raises(fuelsim.InputError, match=r"too many operating points.*ask for fewer values on an axis"):
        fuelsim.Conditions.grid(rpm=np.linspace(800, 6000, 1000), tank_temperature=np.linspace(280.0, 320.0, 1000))


def test_voltages_in_two_dimensions_are_refused_by_a_pump():
    with pytest.raises(fuelsim.InputError, match=r"Pump.at\(\), argument 'supply_voltage': a list of lists"):
        public_values.curve_pump().at(supply_voltage=[[13.5], [11.0]])


def test_nothing_is_written_beside_the_file_that_was_asked_for(tmp_path):
    with pytest.raises(fuelsim.InputError):
        fuelsim.write_car(public_values.car(), tmp_path / "car.toml", overwrite="yes")
    assert os.listdir(tmp_path) == []
