"""Helpers of this folder on the path; emulators need pseudo-terminals."""

import os
import sys
from pathlib import Path

import pytest

from linkcheck.practice import simulate

sys.path.insert(0, str(Path(__file__).parent))

collect_ignore = [] if hasattr(os, "openpty") else ["test_serial_port.py", "test_listener.py", "test_listen_command.py"]


@pytest.fixture(scope="session")
def healthy():
    return simulate("healthy", seconds=20).batch
