"""The folder of this file on the path, so that test helpers can be imported by name; and tests that take minutes.

A test marked `long` runs where LINKCHECK_LONG is set: before a release, and by whoever changes what it tests.
"""

import os
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))


def pytest_configure(config):
    config.addinivalue_line("markers", "long: takes minutes; runs where LINKCHECK_LONG is set")


def pytest_collection_modifyitems(items):
    if not os.environ.get("LINKCHECK_LONG"):
        for item in items:
            if item.get_closest_marker("long"):
                item.add_marker(pytest.mark.skip(reason="takes minutes: LINKCHECK_LONG=1 runs it"))
