"""Settings for all tests: property tests are not timed, for a loaded machine is no fault of the code."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
