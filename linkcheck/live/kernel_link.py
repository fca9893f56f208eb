"""What the Linux kernel says about a CAN network interface: its real bit rate, its mode, its state.

Asked through `ip -details -json link` (iproute2), which reads netlink for us. Nothing is changed here.
"""

from __future__ import annotations

import json
import shutil
import subprocess
from dataclasses import dataclass
from typing import Any

__all__ = ["KernelLink", "kernel_links", "read_links"]

_VIRTUAL = ("vcan", "vxcan")


@dataclass(frozen=True, slots=True)
class KernelLink:
    """One CAN interface as the kernel has it; None where it does not say.

    Attributes:
        name, up: as usual. virtual: no wires behind it. bit_rate, data_bit_rate: bit/s. sample_point: share of the bit.
        listen_only, reports_errors: control modes. state: "ERROR-ACTIVE" and so on. tx_errors, rx_errors: counters.
        restart_ms: time after which it leaves bus-off by itself; 0 never. driver: as the kernel names its parameters.

    """

    name: str
    up: bool
    virtual: bool
    bit_rate: int | None
    data_bit_rate: int | None
    sample_point: float | None
    listen_only: bool
    reports_errors: bool
    state: str | None
    tx_errors: int | None
    rx_errors: int | None
    restart_ms: int | None
    driver: str | None


def read_links(text: str) -> dict[str, KernelLink]:
    """The CAN interfaces in what `ip -details -json link` printed. Anything else there is passed over."""
    try:
        rows = json.loads(text)
    except ValueError:
        return {}
    links = [_link(row) for row in rows if isinstance(row, dict) and row.get("link_type") == "can"]
    return {link.name: link for link in links}


def _link(row: dict[str, Any]) -> KernelLink:
    info = row.get("linkinfo") or {}
    data = info.get("info_data") or {}
    timing, fast = data.get("bittiming") or {}, data.get("data_bittiming") or {}
    modes = data.get("ctrlmode") or []
    errors = data.get("berr_counter") or {}
    sample = timing.get("sample_point")
    return KernelLink(
        name=row["ifname"],
        up="UP" in (row.get("flags") or []),
        virtual=info.get("info_kind") in _VIRTUAL,
        bit_rate=timing.get("bitrate") or data.get("bitrate"),
        data_bit_rate=fast.get("bitrate"),
        sample_point=None if sample is None else float(sample),
        listen_only="LISTEN-ONLY" in modes,
        reports_errors="BERR-REPORTING" in modes,
        state=data.get("state"),
        tx_errors=errors.get("tx"),
        rx_errors=errors.get("rx"),
        restart_ms=data.get("restart_ms"),
        driver=(data.get("bittiming_const") or {}).get("name"),
    )


def kernel_links() -> dict[str, KernelLink]:
    """The CAN interfaces of this machine; empty where there are none, or nobody to ask."""
    command = shutil.which("ip")
    if command is None:
        return {}
    try:
        done = subprocess.run(  # noqa: S603  # a fixed command
            [command, "-details", "-json", "link", "show"], capture_output=True, text=True, timeout=5, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return {}
    return read_links(done.stdout)
