"""Settings of the property tests: no deadline, since a first call may compile a kernel."""

from hypothesis import settings

settings.register_profile("laws", deadline=None)
settings.load_profile("laws")
