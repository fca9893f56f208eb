"""Which of the two does the heavy work: the compiled kernel, or its twin in plain Python.

The kernel is built at install where there is a C compiler. Without one everything works, with the same results, at a
fraction of the speed. `LINKCHECK_PURE=1` in the environment forces the twin.
"""

from __future__ import annotations

import os
from types import ModuleType

from linkcheck.errors import UsageError

__all__ = ["KERNEL", "kernel_name", "pick_kernel"]

_kernel: ModuleType | None = None
if os.environ.get("LINKCHECK_PURE", "0") in {"", "0"}:
    try:
        from linkcheck.frames import _kernel as _built
    except ImportError:
        pass
    else:
        _kernel = _built

KERNEL: bool = _kernel is not None


def kernel_name() -> str:
    """Say which one runs: "compiled kernel" or "pure Python"."""
    return "compiled kernel" if KERNEL else "pure Python"


def pick_kernel(wanted: bool | None) -> ModuleType | None:
    """The kernel's module, or None for the twin.

    Args:
        wanted: None takes the kernel if there is one, False the twin.

    Raises:
        UsageError: the kernel is asked for and there is none.

    """
    if wanted and _kernel is None:
        raise UsageError(
            "The compiled kernel is not available here.",
            todo="Install again where a C compiler is at hand, without LINKCHECK_PURE set.",
        )
    return None if wanted is False else _kernel
