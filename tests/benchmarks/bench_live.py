"""Full load of two 1 Mbit/s channels through two serial lines: loss, processor time, memory.

Run `python tests/benchmarks/bench_live.py [--seconds 300] [--draw]`. A feeder process plays two adapters that send
8,000 numbered frames a second each (29-bit, 8 bytes: more than 1 Mbit/s carries). Here they are received, analysed,
watched and recorded as `linkcheck listen --wiggle --record` does; then the record is read back and every number looked
for. `--draw` keeps this process's interpreter busy for half of the time, as a screen being drawn does. POSIX only.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import select
import subprocess
import sys
import tempfile
import threading
import time
import tty
from pathlib import Path

import numpy as np

from linkcheck.live.open_port import parse_port
from linkcheck.readers import open_capture
from linkcheck.survey.live_capture import LiveCapture
from linkcheck.survey.recorder import Plan, Recorder
from linkcheck.traffic import Options
from linkcheck.traffic.wiggle import WiggleWatch

RATE = 8000  # frames a second on each channel
TICK_S = 0.002
BUFFER = 65_536  # characters an adapter keeps for a host that does not fetch
IDENTIFIERS = [0x0CF00000 | pgn << 8 | source for pgn in range(25) for source in (0, 3, 11, 33)]


class Line:
    """One played adapter."""

    def __init__(self) -> None:
        self.master, self.slave = os.openpty()
        tty.setraw(self.slave)
        os.set_blocking(self.master, False)
        self.open = False
        self.sent = self.lost = 0
        self._waiting = b""

    def answer(self) -> None:
        try:
            commands = os.read(self.master, 4096).split(b"\r")
        except BlockingIOError:
            return
        for command in commands[:-1]:
            if command in (b"L", b"C"):
                self.open = command == b"L"
            known = {b"V": b"V1013\r", b"N": b"N0001\r", b"F": b"F%02X\r" % (9 if self.lost else 0)}
            self._waiting += known.get(command, b"\r")

    def play(self, count: int) -> None:
        if self.open:
            numbers = range(self.sent, self.sent + count)
            lines = [b"T%08X8%016X\r" % (IDENTIFIERS[n % len(IDENTIFIERS)], n) for n in numbers]
            self.sent += count
            if len(self._waiting) > BUFFER:
                self.lost += count
            else:
                self._waiting += b"".join(lines)
        try:
            self._waiting = self._waiting[os.write(self.master, self._waiting) :] if self._waiting else b""
        except BlockingIOError:
            return


def feed(seconds: float) -> None:
    """The feeder process: prints the ports, plays, prints what it sent."""
    lines = [Line(), Line()]
    print(json.dumps([os.ttyname(line.slave) for line in lines]), flush=True)
    begun, played = None, 0
    while begun is None or time.monotonic() - begun < seconds:
        select.select([line.master for line in lines], [], [], TICK_S)
        for line in lines:
            line.answer()
        if begun is None and all(line.open for line in lines):
            begun = time.monotonic()
        due = 0 if begun is None else int((time.monotonic() - begun) * RATE) - played
        played += due
        for line in lines:
            line.play(due)
        time.sleep(TICK_S)
    for _ in range(100):  # what still waits
        for line in lines:
            line.play(0)
        time.sleep(0.01)
    print(json.dumps([[line.sent, line.lost] for line in lines]), flush=True)
    time.sleep(5)


def draw(stop: threading.Event) -> None:
    """Keep the interpreter busy for half of the time."""
    while not stop.is_set():
        until = time.monotonic() + 0.05
        while time.monotonic() < until:
            sum(range(2000))
        time.sleep(0.05)


def resident_mb(process: int | str = "self") -> float:
    """Resident memory of a process."""
    text = Path(f"/proc/{process}/status").read_text()
    return int(text.split("VmRSS:")[1].split()[0]) / 1024


def cpu_s(process: int) -> float:
    """Processor seconds a process has used."""
    fields = Path(f"/proc/{process}/stat").read_text().rsplit(")", 1)[1].split()
    return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def run(seconds: float, *, drawn: bool) -> None:
    """Play, listen, read back, print."""
    feeder = subprocess.Popen([sys.executable, __file__, "--feeder", str(seconds)], stdout=subprocess.PIPE, text=True)
    ports = json.loads(feeder.stdout.readline())
    stop = threading.Event()
    with tempfile.TemporaryDirectory() as folder:
        log = Path(folder) / "load.log"
        capture = LiveCapture(
            [parse_port(f"serial:{port}", i, bit_rate=1_000_000) for i, port in enumerate(ports)],
            Options(bit_rate=1_000_000),
            watch=WiggleWatch(),
            recorder=Recorder(Plan(str(log))),
        )
        if drawn:
            threading.Thread(target=draw, args=(stop,), daemon=True).start()
        children = [reception._child.pid for reception in capture.listener._open.values()]
        begun, own = time.monotonic(), resource.getrusage(resource.RUSAGE_SELF)
        memory, next_look, events = [], begun + min(5.0, seconds / 4), 0
        while not select.select([feeder.stdout], [], [], 0)[0]:
            events += len(capture.step().events)
            if time.monotonic() >= next_look:
                next_look += seconds / 8
                memory.append((resident_mb(), *[resident_mb(child) for child in children]))
        until = time.monotonic() + 1
        while time.monotonic() < until:
            capture.step()
        took = time.monotonic() - begun
        after = resource.getrusage(resource.RUSAGE_SELF)
        used = after.ru_utime + after.ru_stime - own.ru_utime - own.ru_stime
        receivers = [cpu_s(child) for child in children]
        stop.set()
        counters = capture.counters()
        capture.close()
        told = json.loads(feeder.stdout.readline())
        feeder.wait()
        print(
            f"{took:.0f} s, {sum(sent for sent, _ in told):,} frames sent ({sum(s for s, _ in told) / seconds:,.0f}/s)"
        )
        missing(log, told)
        print("counters   ", counters)
        busy = " (half a core of it drawing)" if drawn else ""
        print(f"processor    this process {used / took:.1%} of a core{busy}, receivers", end=" ")
        print(", ".join(f"{cpu / took:.1%}" for cpu in receivers))
        print("memory MB    this process, receivers, over time:", *[tuple(round(m) for m in row) for row in memory])
        print(f"events       {events}; alarms {len(capture.watch.events)}; record {log.stat().st_size / 1e6:.0f} MB")


def missing(log: Path, told: list[list[int]]) -> None:
    """Look for every number in the record."""
    capture = open_capture(str(log))
    seen = [np.zeros(sent, np.bool_) for sent, _ in told]
    twice = 0
    for batch in capture.batches():
        numbers = batch.data.copy().view(">u8").ravel().astype(np.int64)
        for channel, flags in enumerate(seen):
            mine = numbers[(batch.channel == int(batch.channels.index(f"can{channel}"))) & (batch.flags & 4 == 0)]
            twice += int(flags[mine].sum())
            flags[mine] = True
    for channel, flags in enumerate(seen):
        print(
            f"can{channel}         {int((~flags).sum())} missing of {len(flags):,}; the adapter lost {told[channel][1]}"
        )
    print(f"twice        {twice}; lines skipped {capture.tally.skipped}")
    capture.close()


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--draw", action="store_true")
    parser.add_argument("--feeder", type=float, help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.feeder:
        feed(arguments.feeder)
    else:
        run(arguments.seconds, drawn=arguments.draw)
