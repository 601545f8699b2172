"""One profile for all random tests: machines differ in speed, so no example has a deadline."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("house", deadline=None)
settings.load_profile("house")
