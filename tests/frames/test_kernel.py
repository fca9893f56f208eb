"""Kernel or twin: which one runs, what happens where there is none, and a door that lets nothing too small in."""

from __future__ import annotations

import os
import subprocess
import sys

import numpy as np
import pytest

from linkcheck.frames.kernel import KERNEL, kernel_name

ASK = "from linkcheck.frames import Tracker; from linkcheck.frames.kernel import KERNEL, kernel_name; "
HIDE = "import sys; sys.modules['linkcheck.frames._kernel'] = None; "  # as where no compiler was at hand
needs_kernel = pytest.mark.skipif(not KERNEL, reason="the kernel is not built here")


def run(code, **environment):
    command = [sys.executable, "-c", code]
    done = subprocess.run(command, capture_output=True, text=True, check=False, env=os.environ | environment)
    return done.stdout.strip() or done.stderr.strip().splitlines()[-1]


def test_kernel_has_a_name():
    assert kernel_name() == ("compiled kernel" if KERNEL else "pure Python")


@pytest.mark.parametrize(("code", "environment"), [(HIDE, {}), ("", {"LINKCHECK_PURE": "1"})])
def test_without_kernel_the_twin_runs(code, environment):
    assert run(f"{code}{ASK}Tracker(); print(KERNEL, kernel_name())", **environment) == "False pure Python"


def test_asking_for_a_kernel_that_is_not_there_is_an_error():
    assert "UsageError: The compiled kernel is not available here." in run(f"{HIDE}{ASK}Tracker(kernel=True)")


@needs_kernel
def test_door_refuses_arrays_that_are_too_small():
    from linkcheck.frames import _kernel  # noqa: PLC0415 - there may be none

    def arrays(sizes):
        return [np.zeros(size, np.uint8) for size in sizes]

    columns = [8, 1, 4, 1, 1, 8, 0, 0]
    marks = [2, 2, 2, 4, 8, 8, 8]
    state = [1024 * 32, 32, 65536 * 8, 256 * 8, 4, 4, 16]
    sizes = columns + marks + state
    assert _kernel.annotate(0, 1, 0, *arrays(sizes), 0, 4) == (1, 1, 0)
    for i in [i for i, size in enumerate(sizes) if size]:
        short = [size - (j == i) for j, size in enumerate(sizes)]
        with pytest.raises(ValueError):
            _kernel.annotate(0, 1, 0, *arrays(short), 0, 4)

    text = b"(1.0) can0 123#11\n"
    targets, names, odd = [8, 1, 4, 1, 1, 8, 8, 64], 255 * 16, 24

    def parse(targets, names, odd, end=18):
        return _kernel.parse(text, 0, end, *arrays(targets), 0, 1, 0, *arrays([names]), 0, *arrays([odd]), 0)

    assert parse(targets, names, odd)[:2] == (len(text), 1)
    for i in range(6):
        with pytest.raises(ValueError):
            parse([size - (j == i) for j, size in enumerate(targets)], names, odd)
    for wrong in ((names - 1, odd), (names, odd - 1), (names, odd, len(text) + 1)):
        with pytest.raises(ValueError):
            parse(targets, *wrong)
