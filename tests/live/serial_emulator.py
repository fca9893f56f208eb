"""Emulated adapters in a process of their own, driven by lines of JSON: for trials by hand, benchmarks and soaks.

`python tests/live/serial_emulator.py --ports 2 --scenario healthy` prints the serial ports as JSON, then obeys lines on
standard input, and answers each with the bus's time:
{"do":"silence","addresses":[11],"seconds":1} · {"do":"errors","count":5} · {"do":"unplug","port":0} ·
{"do":"replug","port":0} · {"do":"stall","port":0,"seconds":2} · {"do":"fault","port":0,"drop":0.1} ·
{"do":"put","identifier":"18FEF100","payload":"..."} · {"do":"flood","seconds":1} · {"do":"mute","seconds":1} ·
{"do":"state"} · {"do":"quit"}
"""

import argparse
import json
import sys
import threading

from linkcheck.frames import EXTENDED
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import Frame, traffic_of
from linkcheck.live.emulation import Emulation
from linkcheck.practice import simulate


def say(content):
    sys.stdout.write(json.dumps(content) + "\n")
    sys.stdout.flush()


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("--ports", type=int, default=1)
    parser.add_argument("--bit-rate", type=int, default=250_000)
    parser.add_argument("--scenario", default="healthy")
    parser.add_argument("--seconds", type=float, default=20.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--faults", default="{}", help="faults of every port, as JSON")
    args = parser.parse_args()
    traffic = None
    if args.scenario != "none":
        recording = simulate(args.scenario, seed=args.seed, seconds=args.seconds, bit_rate=args.bit_rate)
        traffic = traffic_of(recording.batch)
    faults = [Faults(**json.loads(args.faults)) for _ in range(args.ports)]
    with Emulation(*faults, bit_rate=args.bit_rate, traffic=traffic, seed=args.seed) as emulation:
        say({"ports": emulation.paths})
        for line in sys.stdin:
            order = json.loads(line)
            if order["do"] == "quit":
                return
            say(obey(emulation, order))


def obey(emulation, order):
    what, port = order["do"], order.get("port", 0)
    if what in ("unplug", "replug"):
        getattr(emulation, what)(port)
        return {"time_ns": emulation.bus.now_ns}
    if what == "state":
        bus = emulation.bus
        lost = [adapter.lost for adapter in emulation.adapters]
        return {"time_ns": bus.now_ns, "on_bus": bus.on_bus, "disturbed": bus.disturbed, "lost": lost}
    return {"time_ns": emulation.call(lambda bus: act(emulation, bus, what, port, order))}


def act(emulation, bus, what, port, order):
    adapter, seconds = emulation.adapters[port], order.get("seconds", 1.0)
    actions = {
        "silence": lambda: silence(emulation, bus, set(order["addresses"]), seconds),
        "mute": lambda: mute(emulation, bus, seconds),
        "errors": lambda: bus.break_frames(order.get("count", 1)),
        "stall": lambda: adapter.stall(seconds),
        "put": lambda: bus.put(frame(int(order["identifier"], 16), bytes.fromhex(order["payload"]))),
        "flood": lambda: flood(bus, int(bus.bit_rate * seconds / 131)),
        "fault": lambda: [setattr(adapter.faults, n, v) for n, v in order.items() if n not in ("do", "port")],
    }
    actions[what]()


def silence(emulation, bus, addresses, seconds):
    bus.silenced |= addresses
    threading.Timer(seconds, emulation.call, [lambda b: b.silenced.difference_update(addresses)]).start()


def mute(emulation, bus, seconds):
    bus.muted = True
    threading.Timer(seconds, emulation.call, [lambda b: setattr(b, "muted", False)]).start()


def frame(identifier, payload):
    return Frame(identifier, EXTENDED, len(payload), payload)


def flood(bus, count):
    for number in range(count):
        bus.put(frame(0x0CFF00C8 | (number & 0xFF) << 8, number.to_bytes(8, "little")))


if __name__ == "__main__":
    main()
