"""The one lazy door upward: from a result to its tables, pictures and reports, and from a car to its systems and files.

Rooms import rooms above them only. A method such as ``Run.table`` or ``Car.system`` hands its object to a room below;
it does so through this module, whose names stand in ``opener.pyi`` and load their module when first used. Only methods
may use it: of results, networks, cars and systems, of pumps, fuels and climates that draw themselves, and of a declared
bore, which a size of the catalogue may stand for.
"""

from __future__ import annotations

from pathlib import Path

from fuelsim.lazy_names import modules_in_stub, opened_from

__getattr__ = opened_from(modules_in_stub(Path(__file__).with_name("opener.pyi")), globals())
