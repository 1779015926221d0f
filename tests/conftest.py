"""Settings of all tests: properties are judged by their examples, never by the time a busy machine takes for one."""

from hypothesis import settings

settings.register_profile("fuelsim", deadline=None)
settings.load_profile("fuelsim")
