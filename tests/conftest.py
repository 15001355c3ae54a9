"""What every test shares: property tests that do not depend on luck or on how busy the machine is."""

from __future__ import annotations

from hypothesis import HealthCheck, settings

# Examples are derived from the test itself, so that a failure here is a failure everywhere.
settings.register_profile("steady", deadline=None, derandomize=True, print_blob=True, suppress_health_check=[HealthCheck.too_slow])
settings.load_profile("steady")
