"""Names are found: what an editor offers, and what a wrong name is answered with."""

import pickle

import pytest

import fuelsim as fs
from fuelsim.declaration import declarations
from fuelsim.errors import InputError


def tables_below(part):
    for item in declarations(part).values():
        for kind in (item.part, item.member):
            if kind is not None:
                yield kind
                yield from tables_below(kind)


def test_only_public_names_are_offered_after_the_dot():
    assert dir(fs) == fs.__all__
    assert not [name for name in dir(fs) if name.startswith("_")]


def test_stations_and_named_tables_are_offered_after_a_bracket():
    run = fs.Car.named("finch").system("return").solve(rpm=3000)
    assert "rail" in run.pressure._ipython_key_completions_()
    assert "feed" in run.flow._ipython_key_completions_()
    hose = fs.PlumbedLine(length="30 cm", bore="8 mm")
    assert fs.Car.named("finch").with_values({"lines.short": hose}).lines._ipython_key_completions_() == ["short"]


@pytest.mark.parametrize("kind", sorted({*tables_below(fs.Car), fs.Car, fs.Conditions}, key=lambda kind: kind.__name__))
def test_a_rating_misspelt_is_answered_with_the_nearest(kind):
    name = next(iter(declarations(kind)))
    with pytest.raises(InputError, match=f"did you mean '{name}'") as caught:
        kind(**{name + "x": 1.0})
    assert kind.__name__ in str(caught.value)


def test_ratings_still_pickle():
    line = fs.PlumbedLine(length="3 m", bore="8 mm")
    assert pickle.loads(pickle.dumps(line)) == line


def test_fixed_names_are_in_the_signature_and_a_wrong_one_is_answered_with_the_nearest():
    """An editor offers the members of a `Literal`; checkers refuse others."""
    car = fs.Car.named("finch")
    wrong = {
        "did you mean 'US workshop'": lambda: car.system("return").solve(rpm=3000).table("US workshp"),
        "did you mean 'dortmund'": lambda: fs.Fuel.named("summer_e10", activity_model="dortmnd"),
        "did you mean 'motorway'": lambda: fs.typical_phase("motorwy", "1 h", car),
        "did you mean 'braking'": lambda: fs.manoeuvre(car, "breaking", "0.5 g"),
        "did you mean 'air_temperature'": lambda: fs.margin_map(
            car, "return", {"altitude": [0.0]}, limited="air_temperatur"
        ),
        "did you mean 'mole'": lambda: fs.Fuel.from_components({"isooctane": 1.0}, "moles"),
    }
    for message, call in wrong.items():
        with pytest.raises(InputError, match=message):
            call()
