"""Importing costs little, and every public name opens."""

import subprocess
import sys
import textwrap

import pytest

import fuelsim

HEAVY = (
    "scipy",
    "pint",
    "pandas",
    "matplotlib",
    "CoolProp",
    "chemicals",
    "thermo",
    "fluids",
    "ht",
    "jinja2",
    "tqdm",
    "IPython",
    "dask",
    "pytest",
)


def loaded_after(code):
    """Return which heavy modules a fresh interpreter holds after running the code."""
    script = f"""
import sys
{textwrap.dedent(code)}
print(" ".join(sorted(name for name in {HEAVY!r} if name in sys.modules)))
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    return set(done.stdout.split())


def test_import_loads_numpy_alone_of_the_heavy_modules():
    assert loaded_after("import fuelsim") == set()


def test_reading_a_unit_loads_pint_alone():
    # pint itself looks for companions such as dask where they are installed.
    with_unit = loaded_after("import fuelsim as fs\nassert fs.si('3 mm', 'm') == 0.003")
    assert with_unit == loaded_after("import pint")
    assert loaded_after("import fuelsim as fs\nassert fs.si(3.0, 'm') == 3.0") <= with_unit


def test_declaring_and_filling_ratings_with_numbers_loads_nothing_heavy():
    assert loaded_after("from fuelsim import Engine, Line\nLine(length=3.0, bore=0.008)") == set()


def test_public_names_are_listed_without_loading_them():
    assert loaded_after("import fuelsim\nassert 'Network' in dir(fuelsim)") == set()


def test_public_names_are_sorted_and_listed_once():
    assert list(fuelsim.__all__) == sorted(set(fuelsim.__all__))
    assert set(fuelsim.__all__) <= set(dir(fuelsim))


@pytest.mark.parametrize("name", fuelsim.__all__)
def test_every_public_name_opens_and_has_a_docstring(name):
    assert getattr(fuelsim, name).__doc__


def test_unknown_name_is_an_attribute_error():
    with pytest.raises(AttributeError, match="no attribute 'Supercharger'"):
        fuelsim.Supercharger  # noqa: B018
