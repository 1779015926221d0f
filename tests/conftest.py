"""Settings of all tests: properties are judged by their examples, never by the time a busy machine takes for one."""

import sys
from pathlib import Path

from hypothesis import settings

sys.path.insert(0, str(Path(__file__).parent))

settings.register_profile("fuelsim", deadline=None)
settings.load_profile("fuelsim")
