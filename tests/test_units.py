"""The door for values: what a person writes becomes SI or one clear error."""

import contextlib
import math
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

import fuelsim as fs
from fuelsim import units
from fuelsim.errors import InputError
from fuelsim.kinds import KINDS
from fuelsim.units import SYSTEMS, convert, from_si, kind_of_unit, shown

ATMOSPHERE = 101325.0


def problem(value, kind="length", **options):
    with pytest.raises(InputError) as caught:
        convert(value, kind, **options)
    return str(caught.value)


# Where a general unit parser goes wrong without a word.


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("1 1/2 in", 0.0381),
        ("1-1/2 in", 0.0381),
        ("-1 1/2 in", -0.0381),
        ("3/8 in", 0.009525),
        ('5/16"', 0.0079375),
        ("3 / 8 in", 0.009525),
        ("1/2in", 0.0127),
        ("8mm", 0.008),
        (" 8  mm ", 0.008),
        ("8\u00a0mm", 0.008),
        ("\u22128 mm", -0.008),
        (".5 mm", 0.0005),
        ("5. mm", 0.005),
        ("1.5e-6 m", 1.5e-6),
        ("28 thou", 28 * 25.4e-6),
        ("1.5 µm", 1.5e-6),
        ("1.5 μm", 1.5e-6),
        ("60 µin", 60 * 25.4e-9),
    ],
)
def test_numbers_and_fractions_are_read_as_a_workshop_writes_them(text, metres):
    assert convert(text, "length") == pytest.approx(metres, rel=1e-12)


@pytest.mark.parametrize("text", ["1,5 bar", "-1,5 bar", "1.000,5 bar", "1,000 bar"])
def test_decimal_comma_is_refused_as_ambiguous(text):
    said = problem(text, "pressure difference")
    assert "comma" in said
    assert "'1.5 bar'" in said


def test_coulombs_are_not_degrees():
    said = problem("5 C", "temperature")
    assert "'C' is not a unit of temperature" in said
    assert "did you mean 'degC'" in said
    assert "did you mean 'degF'" in problem("90 F", "temperature")


@pytest.mark.parametrize(
    ("text", "kelvin"),
    [
        ("45 degC", 318.15),
        ("45 °C", 318.15),
        ("45°C", 318.15),
        ("45 ℃", 318.15),
        ("45 deg C", 318.15),
        ("45 celsius", 318.15),
        ("-40 degF", 233.15),
        ("212 °F", 373.15),
        ("100 fahrenheit", 310.92777777777775),
        ("300 K", 300.0),
        ("540 degR", 300.0),
    ],
)
def test_every_spelling_of_a_temperature_keeps_its_zero_point(text, kelvin):
    assert convert(text, "temperature") == pytest.approx(kelvin, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "kind", "value"),
    [
        ("0.6 mm2/s", "kinematic viscosity", 0.6e-6),
        ("0.6 mm²/s", "kinematic viscosity", 0.6e-6),
        ("0.6 mm^2/s", "kinematic viscosity", 0.6e-6),
        ("0.6 mm**2/s", "kinematic viscosity", 0.6e-6),
        ("0.6 cSt", "kinematic viscosity", 0.6e-6),
        ("0.5 cP", "dynamic viscosity", 0.5e-3),
        ("0.5 mPa s", "dynamic viscosity", 0.5e-3),
        ("0.5 mPa.s", "dynamic viscosity", 0.5e-3),
        ("0.5 mPa·s", "dynamic viscosity", 0.5e-3),
        ("60 gph", "volume flow", 60 * 231 * 0.0254**3 / 3600),
        ("1 gpm", "volume flow", 231 * 0.0254**3 / 60),
        ("255 lph", "volume flow", 255e-3 / 3600),
        ("255 L/h", "volume flow", 255e-3 / 3600),
        ("255 l/hr", "volume flow", 255e-3 / 3600),
        ("440 cc/min", "injector flow", 440e-6 / 60),
        ("440 cm3/min", "injector flow", 440e-6 / 60),
        ("52 lb/h", "mass flow", 52 * 0.45359237 / 3600),
        ("52 lbs/hr", "mass flow", 52 * 0.45359237 / 3600),
        ("52 pph", "mass flow", 52 * 0.45359237 / 3600),
        ("0.5 lb/hp/h", "specific fuel consumption", 0.5 * 0.45359237 / (745.6998715822702 * 3600)),
        ("0.5 lb/(hp h)", "specific fuel consumption", 0.5 * 0.45359237 / (745.6998715822702 * 3600)),
        ("0.5 lb/hp-hr", "specific fuel consumption", 0.5 * 0.45359237 / (745.6998715822702 * 3600)),
        ("304 g/kWh", "specific fuel consumption", 0.304 / 3.6e6),
        ("100 PS", "power", 73549.875),
        ("300 Nm", "torque", 300.0),
        ("200 lb ft", "torque", 200 * 0.3048 * 4.4482216152605),
        ("200 lb-ft", "torque", 200 * 0.3048 * 4.4482216152605),
        ("200 ft-lb", "torque", 200 * 0.3048 * 4.4482216152605),
        ("2100 J/kg K", "specific heat capacity", 2100.0),
        ("2.1 kJ/(kg K)", "specific heat capacity", 2100.0),
        ("8 W/m2K", "heat transfer coefficient", 8.0),
        ("8 W/m²K", "heat transfer coefficient", 8.0),
        ("2.1 kJ/kgK", "specific heat capacity", 2100.0),
        ("8 W/m2/degC", "heat transfer coefficient", 8.0),
        ("8 W/m² °C", "heat transfer coefficient", 8.0),
        ("0.39 W/m K", "heat conductance per length", 0.39),
        ("5.7 L", "displacement", 5.7e-3),
        ("350 in3", "displacement", 350 * 0.0254**3),
        ("350 cu in", "displacement", 350 * 0.0254**3),
        ("1600 cc", "displacement", 1.6e-3),
        ("5000 1/min", "engine speed", 5000.0),
        ("5000 rev/min", "engine speed", 5000.0),
        ("5000 rpm", "engine speed", 5000.0),
        ("10 %", "fraction", 0.1),
        ("0.1", "fraction", 0.1),
        ("1/2", "fraction", 0.5),
        ("90 deg", "angle", math.pi / 2),
        ("90°", "angle", math.pi / 2),
        ("1 g", "acceleration", 9.80665),
        ("1 kgf/cm2", "pressure difference", 98066.5),
        ("1 inHg", "pressure difference", 3386.39),
        ("1 inH2O", "pressure difference", 249.089),
        ("10 mmH2O", "pressure difference", 98.0665),
    ],
)
def test_notation_of_the_trade_is_read(text, kind, value):
    assert convert(text, kind) == pytest.approx(value, rel=1e-5 if "inH" in text else 1e-12)


@pytest.mark.parametrize(
    ("text", "kind"),
    [
        ("50 Hz", "engine speed"),  # a general parser makes 477 rpm of it: a hertz is not a radian per second
        ("5 deg", "fraction"),
        ("300 rpm", "number"),
        ("10 %", "angle"),
        ("10 dBm", "power"),
        ("5 degC", "length"),
    ],
)
def test_units_that_a_general_parser_mistakes_for_plain_numbers_are_refused(text, kind):
    assert f"is not a unit of {kind}" in problem(text, kind) or "zero point" in problem(text, kind)


def test_decimal_units_convert_without_noise_in_the_last_digit():
    assert [fs.si(f"1.6 {unit}", "m3") for unit in ("L", "dm3", "m3")] == [0.0016, 0.0016, 1.6]
    assert fs.si("8 mm", "m") == 0.008
    assert fs.si("300 kPa", "Pa") == 300e3
    assert fs.si("0.6 mm2/s", "m2/s") == 0.6e-6


# Differences and absolutes.


def test_gauge_pressure_needs_the_atmosphere():
    assert convert("30 psig", "absolute pressure", atmospheric_pressure=ATMOSPHERE) == pytest.approx(
        ATMOSPHERE + 30 * 6894.757293168361
    )
    for text in ("30 psig", "2 bar gauge", "2 bar(g)", "2 barg", "200 kPa g", "200 kPag"):
        assert "needs the atmospheric pressure" in problem(text, "absolute pressure")
        assert convert(text, "absolute pressure", atmospheric_pressure=ATMOSPHERE) > 300e3


@pytest.mark.parametrize(
    "text", ["14.7 psia", "14.7 psi absolute", "14.7 psi(a)", "14.7 psi abs", "14.7 psi", "14.7 psi a"]
)
def test_absolute_pressure_may_say_so(text):
    assert convert(text, "absolute pressure") == pytest.approx(101352.93, rel=1e-6)


def test_absolute_pressure_is_no_difference():
    assert "not an absolute pressure" in problem("58 psia", "pressure difference")
    assert "not an absolute pressure" in problem("400 kPa absolute", "pressure difference")
    assert convert("58 psig", "pressure difference") == convert("58 psi", "pressure difference")


def test_temperature_and_temperature_difference_are_kept_apart():
    assert "no zero point" in problem("5 degC", "temperature difference")
    assert "no zero point" in problem("5 °F", "temperature difference")
    assert "not a difference" in problem("5 delta_degC", "temperature")
    assert convert("9 delta_degF", "temperature difference") == pytest.approx(5.0)
    assert convert("5 K", "temperature difference") == 5.0


def test_si_knows_gauge_units_for_strings_and_numbers():
    assert fs.si("30 psig", "Pa", atmospheric_pressure="100 kPa") == pytest.approx(306842.7, rel=1e-6)
    assert fs.si(30, "psig", atmospheric_pressure=100e3) == fs.si("30 psig", "Pa", atmospheric_pressure=100e3)
    assert fs.si(14.7, "psia") == fs.si("14.7 psi", "Pa")
    with pytest.raises(InputError, match="needs the atmospheric pressure"):
        fs.si(30, "psig")


# Lists and arrays.


def test_lists_arrays_and_mixtures_keep_their_shape():
    assert fs.si([20, 40], "degC").tolist() == [293.15, 313.15]
    assert fs.si(np.array([[1.0, 2.0], [3.0, 4.0]]), "kPa").tolist() == [[1e3, 2e3], [3e3, 4e3]]
    assert fs.si(["1 bar", 200, "0.3 MPa"], "kPa") == pytest.approx([1e5, 2e5, 3e5])
    assert fs.si((("1 mm", "2 mm"), ("3 mm", "4 mm")), "m") == pytest.approx(np.array([[1, 2], [3, 4]]) / 1e3)
    assert fs.si(np.array(["8 mm", "10 mm"]), "m") == pytest.approx([0.008, 0.01])
    assert fs.si(np.array("8 mm"), "m") == 0.008
    assert fs.si(range(3), "m").tolist() == [0.0, 1.0, 2.0]
    assert fs.si([], "m").shape == (0,)
    assert isinstance(fs.si(3, "m"), float)
    assert isinstance(fs.si(np.float32(3), "m"), float)
    assert fs.si(np.arange(3), "m").dtype == float


def test_table_column_is_read_like_a_list():
    pandas = pytest.importorskip("pandas")
    assert fs.si(pandas.Series(["100 kPa", "2 bar"]), "Pa").tolist() == [1e5, 2e5]
    assert fs.si(pandas.Series([1.0, 2.0]), "bar").tolist() == [1e5, 2e5]


def test_an_array_given_is_never_changed_or_shared():
    given_array = np.array([1.0, 2.0])
    converted = convert(given_array, "length")
    converted[0] = 9.0
    assert given_array.tolist() == [1.0, 2.0]


# Units do not depend on each other.


def units_of(kind):
    if kind == "absolute pressure":
        return ["Pa", "kPa", "MPa", "bar", "mbar", "psi", "psia", "kPa absolute", "atm", "inHg", "mmHg"]
    return sorted({KINDS[kind].unit, *KINDS[kind].shown, *KINDS[kind].examples})


@pytest.mark.parametrize("kind", KINDS)
def test_every_unit_named_for_a_kind_is_read_and_shown(kind):
    for unit in units_of(kind):
        if kind in ("fraction", "number") and unit == "1":
            continue
        assert np.isfinite(convert(f"1.5 {unit}", kind))
        assert convert(f"1.5 {unit}", kind) == convert(1.5, kind, unit=unit)
    assert convert(f"1.5 {KINDS[kind].unit}".removesuffix(" 1"), kind) == pytest.approx(1.5, rel=1e-15)
    for system in SYSTEMS:
        assert shown(1.5, kind, system)


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    kind=st.sampled_from(sorted(KINDS)),
    data=st.data(),
    value=st.floats(1e-6, 1e6),
)
def test_converting_through_any_accepted_unit_comes_back_the_same(kind, data, value):
    unit = data.draw(st.sampled_from(units_of(kind)))
    assert convert(from_si(value, unit, kind), kind, unit=unit) == pytest.approx(value, rel=1e-12, abs=3e-13)
    text = f"{float(from_si(value, unit, kind))!r} {unit}".removesuffix(" 1")
    assert convert(text, kind) == pytest.approx(value, rel=1e-12, abs=3e-13)


@pytest.mark.parametrize("unit", ["kPa", "degC", "L/h", "mm", "cSt", "rpm", "V", "g/kWh", "%", "J", "N m", "K", "in3"])
def test_kind_of_a_unit_converts_to_itself(unit):
    assert fs.si(fs.from_si(2.5, unit), unit) == pytest.approx(2.5, rel=1e-13)
    assert kind_of_unit(unit) in KINDS


# One clear error.


@pytest.mark.parametrize(
    ("text", "hint"),
    [("300 kpa", "kPa"), ("300 KPA", "kPa"), ("300 Mpa", "MPa"), ("58 PSI", "psi"), ("4 kg/cm2", "kgf/cm2")],
)
def test_a_near_miss_of_a_unit_gets_the_right_spelling(text, hint):
    said = problem(text, "pressure difference")
    assert f"did you mean '{hint}'" in said
    assert said.count(text) == 1


def test_wrong_dimension_and_unknown_unit_say_what_is_accepted():
    assert "'kg' is not a unit of length; given '8 kg'; accepted: " in problem("8 kg")
    assert "unknown unit 'furble'; given '8 furble'; accepted: a unit of length, as in mm, m" in problem("8 furble")
    assert "a text without a unit; given '8'; accepted: a unit of length (mm, m, in, ft)" in problem("8")
    with pytest.raises(InputError, match="did you mean 'L/h'"):
        fs.si(3, "l/H")
    with pytest.raises(InputError, match="a unit is text"):
        fs.si(3, 5)


CODE = "__import__('os').system('true')"
WEIRD = [
    "",
    " ",
    "mm",
    "½ in",
    "1½ in",
    "3⁄8 in",
    "--3 mm",
    "- 3 mm",
    "+-3 mm",
    "1e5 e5 m",
    "1_000 mm",
    "1 000 mm",
    "1.000.000 mm",
    "1..5 mm",
    "3-5 mm",
    "3–5 mm",
    "٣ mm",
    "５ mm",
    "1/0 in",
    "1/2/3 in",
    "nan mm",
    "inf mm",
    "NaN",
    "1e999 mm",
    "0x10 mm",
    "5 mm 3",
    "5 mm;",
    "5 mm\x00",
    "5 \N{PILE OF POO}",
    "5 m**9**9**9",
    "5 m^999999",
    "5 (((mm)))",
    "5 mm/",
    "5 /mm",
    "5 m//s",
    "5 None",
    "5 in in in",
    CODE,
    f"5 {CODE}",
    "5 {0.__class__}",
    "5 %s",
    "9" * 10_000,
    "5 " + "m" * 10_000,
    "5" + " " * 10_000 + "m",
    "(" * 10_000,
    "1 1/" + "2" * 50,
    "-",
    "1e",
    ".",
    "e",
    None,
    True,
    False,
    np.True_,
    float("nan"),
    float("inf"),
    -np.inf,
    10**400,
    1 + 2j,
    np.array([1 + 2j]),
    np.array([True]),
    np.array(["2020-01-01"], dtype="datetime64[D]"),
    np.array([1.0, np.nan]),
    np.array([None]),
    b"8 mm",
    {"a": 1},
    {1.0, 2.0},
    object(),
    Decimal("1.5"),
    print,
    [1.0, [2.0]],
    [[1.0, 2.0], [3.0]],
    [1.0, None],
    [1.0, "furble"],
    [True, 1.0],
    (item for item in (1.0, 2.0)),
]
ENDLESS: list = []
ENDLESS.append(ENDLESS)


@pytest.mark.parametrize("value", [*WEIRD, ENDLESS], ids=lambda value: ascii(value).partition(" at 0x")[0][:30])
def test_weird_values_get_one_clear_error_and_nothing_else(value):
    for kind in ("length", "absolute pressure", "temperature", "engine speed"):
        said = problem(value, kind)
        assert "accepted: " in said
        assert len(said) < 400
        assert "\n" not in said


@settings(max_examples=300, derandomize=True, deadline=None)
@given(
    text=st.text(max_size=30),
    number=st.sampled_from(["", "5", "5 ", "1 1/2 ", "-.3e2 "]),
    kind=st.sampled_from(list(KINDS)),
)
@example(text="m" * 99, number="5", kind="length")
@example(text="e5 m", number="1e5 ", kind="length")
def test_any_text_is_a_number_or_an_input_error(text, number, kind):
    said = ""
    try:
        assert np.isfinite(convert(number + text, kind))
    except InputError as error:
        said = str(error)
    assert "\n" not in said


@settings(max_examples=200, derandomize=True, deadline=None)
@given(
    words=st.lists(
        st.sampled_from(
            ["m", "s", "kg", "K", "mm2", "/", "/", "*", "^2", "-1", "(", ")", "degC", "in", "bar", "g", "e"]
        ),
        min_size=1,
        max_size=6,
    )
)
def test_any_unit_built_from_pieces_converts_or_is_refused(words):
    for text in ("".join(words), " ".join(words)):
        with contextlib.suppress(InputError):
            assert from_si(fs.si(2.0, text), text) == pytest.approx(2.0, rel=1e-12, abs=1e-9)


# What is shown.


def test_labels_and_shown_values_read_as_print():
    assert units.label("W/m2/K") == "W/m²/K"
    assert shown(5400.0, "engine speed") == "5400 rpm"
    assert shown(12345.0, "engine speed") == "12345 rpm"
    assert shown(300e3, "pressure difference", "US workshop") == "43.51 psi"
    assert shown(95e-3 / 3600, "volume flow") == "95 L/h"


def test_gauge_is_no_unit_to_show_in():
    with pytest.raises(InputError, match="gauge"):
        from_si(3e5, "psig", "absolute pressure")


@pytest.mark.parametrize("text", ["0.1 kPa/(L/h)", "0.1 kPa h/L", "0.1 kPa per (L/h)", "100 Pa/(L/h)"])
def test_a_slope_of_pressure_over_flow_may_have_its_flow_in_brackets(text):
    assert units.convert(text, "pressure per flow") == pytest.approx(100.0 * 3.6e6, rel=1e-12)


@pytest.mark.parametrize("text", ["1 kPa/(L/h", "1 kPa/((L/h))x", "1 kPa/()", "1 (kPa)/h)"])
def test_brackets_that_do_not_close_are_no_unit(text):
    with pytest.raises(InputError):
        units.convert(text, "pressure per flow")
