"""What every test needs: the main module stays what it was."""

import sys

import pytest


@pytest.fixture(autouse=True)
def _main_module_stays():
    """Page tests put their script in its place, and processes started afterwards would run that script."""
    main = sys.modules["__main__"]
    yield
    sys.modules["__main__"] = main
