"""What every test needs: the same examples in every run, and a main module that stays what it was."""

import os
import sys

import pytest
from hypothesis import settings

# The same examples everywhere, so that a red run is red for everybody; HYPOTHESIS_PROFILE=explore looks for new ones.
settings.register_profile("repeatable", derandomize=True, deadline=None)
settings.register_profile("explore", deadline=None)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "repeatable"))


@pytest.fixture(autouse=True)
def _main_module_stays():
    """Page tests put their script in its place, and processes started afterwards would run that script."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
