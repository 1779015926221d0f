"""fuelsim: size and prove the fuel delivery of a car converted to electronic fuel injection.

The public names stand in ``__init__.pyi``. Each loads its module when first used, so that ``import fuelsim`` costs
little.

Examples
--------
>>> import fuelsim as fs
>>> fs.si("300 kPa", "Pa")
300000.0
"""

from __future__ import annotations

from pathlib import Path

from fuelsim.constants import VERSION
from fuelsim.lazy_names import modules_in_stub, opened_from

__version__ = VERSION

_module_of = modules_in_stub(Path(__file__).with_name("__init__.pyi"))
__all__ = sorted(_module_of)
__getattr__ = opened_from(_module_of, globals())


def __dir__() -> list[str]:
    return __all__
