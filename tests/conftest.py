"""One Hypothesis profile for CI (no luck, no clock), and the versions that matter on top."""

import numba
import numpy
import shapely
from hypothesis import HealthCheck, settings

settings.register_profile(
    "steady",
    derandomize=True,
    deadline=None,
    max_examples=50,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
settings.load_profile("steady")


def pytest_report_header() -> str:
    """Print what the geometry rests on."""
    return (
        f"shapely {shapely.__version__} (GEOS {shapely.geos_version_string}), "
        f"numpy {numpy.__version__}, numba {numba.__version__}"
    )
