"""Settings of the property tests.

A gate must say the same twice, so examples are drawn from a fixed seed. HYPOTHESIS_PROFILE=search
looks at new ones each time; what it finds becomes a fix and an `@example`. There is no deadline,
since a first call may compile a kernel.
"""

import os

from hypothesis import settings

settings.register_profile("same", deadline=None, derandomize=True)
settings.register_profile("search", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "same"))
