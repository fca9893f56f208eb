"""A soak: emulated adapters are unplugged, stalled, flooded, corrupted at random; nothing may crash or go unrecorded.

`python tests/live/soak.py --seconds 1800 --seed 1` runs by hand; a test runs a short form. Every injected event must be
found in the record: unplugging and return, stalls, damaged lines, error frames, floods, silences of the bus.
"""

import argparse
import json
import random
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from linkcheck.live.open_port import parse_port
from linkcheck.readers import open_capture
from linkcheck.survey.live_capture import LiveCapture
from linkcheck.survey.recorder import Plan, Recorder
from linkcheck.traffic.triggers import Triggers
from linkcheck.traffic.wiggle import WiggleWatch

EMULATOR = Path(__file__).with_name("serial_emulator.py")
SECOND = 1_000_000_000
FLOOD_ID = 0x0CFF00C8
PATIENCE_NS = 6 * SECOND  # an event may be told late on a busy machine


class Emulator:
    """The emulator process, obeying orders."""

    def __init__(self, ports):
        self._child = subprocess.Popen(
            [sys.executable, str(EMULATOR), "--ports", str(ports)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        self.ports = json.loads(self._child.stdout.readline())["ports"]

    def order(self, do, **words):
        self._child.stdin.write(json.dumps({"do": do, **words}) + "\n")
        self._child.stdin.flush()
        return json.loads(self._child.stdout.readline())["time_ns"]

    def close(self):
        self._child.stdin.close()
        self._child.stdout.close()
        self._child.wait(10)


def trouble(emulator, chance):
    """One random trouble on one of two ports: when, channel and kind to look for; what to do later; the pause after."""
    port = chance.randrange(2)
    channel = f"can{port}"
    kind = chance.choice(["lost", "stalled", "error frames", "flood", "damaged", "late", "trigger"])
    order, pause = {
        "lost": (lambda: emulator.order("unplug", port=port), 5.0),
        "stalled": (lambda: emulator.order("stall", port=port, seconds=2.5), 5.0),
        "error frames": (lambda: emulator.order("errors", count=chance.randrange(1, 30)), 1.5),
        "flood": (lambda: emulator.order("flood", seconds=1.0), 2.5),
        "damaged": (lambda: emulator.order("fault", port=port, damage=0.3), 2.0),
        "late": (lambda: emulator.order("silence", addresses=[11], seconds=1.0), 2.0),
        "trigger": (lambda: emulator.order("mute", seconds=2.0), 3.5),
    }[kind]
    row = (order(), channel if kind in ("lost", "stalled", "damaged") else "", kind)
    later = {
        "lost": (1.5, lambda: (emulator.order("replug", port=port), channel, "reopened")),
        "damaged": (1.0, lambda: emulator.order("fault", port=port, damage=0.0) and None),
    }.get(kind)
    return row, later, pause


def soak(seconds, seed, folder):
    """Run. Returns (what was done to it, what is missing from the record, the capture)."""
    chance, said, emulator = random.Random(seed), [], Emulator(2)  # noqa: S311  # chance, no secrets
    watch = WiggleWatch()
    capture = LiveCapture(
        [parse_port(f"serial:{path}", number) for number, path in enumerate(emulator.ports)],
        watch=watch,
        recorder=Recorder(Plan(str(folder / "soak.log"), rotate_bytes=4 << 20)),
        triggers=Triggers(frozenset({"errors", "silence"})),
    )
    now = time.monotonic()
    end, next_trouble, later, damage = now + seconds, now + 8.0, [], []
    while time.monotonic() < end + 6.0:
        capture.step()
        now = time.monotonic()
        damage.append((capture.now_ns, {name: count.damaged for name, count in capture.counters().items()}))
        for due, action in [entry for entry in later if entry[0] <= now]:
            later.remove((due, action))
            said += [row for row in [action()] if row]
        if next_trouble <= now < end and not later:
            row, afterwards, pause = trouble(emulator, chance)
            said.append(row)
            if afterwards:
                later.append((now + afterwards[0], afterwards[1]))
            next_trouble = now + pause
    capture.close()
    result = capture.result()
    emulator.close()
    missing = [row for row in said if not found(row, folder, watch, damage)]
    return said, missing, capture, result


def found(row, folder, watch, damage):
    """Whether what was done at a time stands in the record."""
    at, channel, kind = row
    within = range(at - SECOND, at + PATIENCE_NS)
    if kind == "damaged":
        counts = [count[channel] for now, count in damage if now in within]
        return counts[-1] > counts[0]
    if kind == "late":
        return any(e.kind == "late" and e.start_ns in within for e in watch.events)
    if kind in ("error frames", "flood"):
        return in_logs(folder, within, kind)
    rows = [json.loads(line) for line in (folder / "soak.events.jsonl").read_text().splitlines()]
    return any(
        entry["kind"] == kind and int(entry["time_s"] * 1e9) in within and channel in ("", entry["channel"])
        for entry in rows
    )


def in_logs(folder, within, kind):
    """Whether such frames stand in the logs at that time."""
    for path in sorted(folder.glob("soak-*.log")):
        capture = open_capture(str(path))
        try:
            for batch in capture.batches():
                near = (batch.time_ns >= within.start) & (batch.time_ns < within.stop)
                wanted = batch.flags & 4 if kind == "error frames" else (batch.identifier & 0x1FFF00FF) == FLOOD_ID
                if (near & (wanted != 0)).any():
                    return True
        finally:
            capture.close()
    return False


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=1800.0)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        said, missing, capture, result = soak(args.seconds, args.seed, Path(folder))
        kinds = sorted({kind for _, _, kind in said})
        counts = ", ".join(f"{sum(row[2] == kind for row in said)} {kind}" for kind in kinds)
        sys.stdout.write(f"injected: {counts}\nnot in the record: {missing}\n")
        sys.stdout.write(f"frames: { {name: channel.frames for name, channel in result.channels.items()} }\n")
        sys.stdout.write(f"counters: {capture.counters()}\nfiles: {len(capture.recorder.files)}\n")
    return 1 if missing else 0


if __name__ == "__main__":
    raise SystemExit(main())
