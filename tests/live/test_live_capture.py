"""A live capture from ports to result: the same as replay, and nothing that happens on the way ends it."""

import dataclasses
import itertools
import subprocess
import sys
import time

import can
import msgspec
import pytest

from linkcheck.frames import ERROR
from linkcheck.live import receiver
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import traffic_of
from linkcheck.live.emulation import Emulation
from linkcheck.live.listener import Listener
from linkcheck.live.open_port import parse_port
from linkcheck.live.port import PortRefusedError
from linkcheck.survey import CaptureFile
from linkcheck.survey.live_capture import LiveCapture
from linkcheck.survey.recorder import Plan, Recorder
from linkcheck.traffic import Options
from linkcheck.traffic.triggers import Triggers
from linkcheck.traffic.wiggle import WiggleWatch


def run(capture, until, patience_s=30.0):
    events, give_up = [], time.monotonic() + patience_s
    while time.monotonic() < give_up:
        events += capture.step().events
        if until(events):
            return events
    raise AssertionError(f"never came: {events}")


def frames_of(capture):
    return sum(gauge.frames for gauge in capture.gauges())


def test_live_and_replay_of_the_same_traffic_give_the_same_result(healthy, tmp_path):
    """Two adapters, errors included; what was recorded is replayed and every figure must be equal."""
    log = tmp_path / "heard.log"
    with Emulation(Faults(), Faults(), traffic=traffic_of(healthy)) as emulation:
        specs = [parse_port(f"serial:{path}", i) for i, path in enumerate(emulation.paths)]
        capture = LiveCapture(specs, Options(bit_rate=250_000), recorder=Recorder(Plan(str(log))))
        run(capture, lambda _: frames_of(capture) > 1000)
        emulation.call(lambda bus: bus.break_frames(5))
        run(capture, lambda _: frames_of(capture) > 2000)
        capture.close()
    live = msgspec.to_builtins(capture.result())
    replay = msgspec.to_builtins(CaptureFile(str(log), Options(bit_rate=250_000)).run())
    assert live["channels"]["can0"]["frames"] > 900
    assert live["channels"]["can0"]["error_frames"]["total"] > 0
    assert set(live["channels"]) == {"can0", "can1"}
    assert live["channels"] == replay["channels"]


def test_a_recording_is_what_python_can_reads(healthy, tmp_path):
    log = tmp_path / "heard.log"
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        capture = LiveCapture([parse_port(f"serial:{emulation.paths[0]}")], recorder=Recorder(Plan(str(log))))
        run(capture, lambda _: frames_of(capture) > 300)
        capture.close()
    with can.LogReader(log) as reader:
        messages = list(reader)
    assert len(messages) == capture.recorder.written
    assert all(a.timestamp <= b.timestamp for a, b in itertools.pairwise(messages))


def test_unplugging_ends_nothing_and_the_adapter_comes_back_by_itself(healthy, tmp_path):
    log = tmp_path / "heard.log"
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        watch = WiggleWatch()
        port = parse_port(f"serial:{emulation.paths[0]}")
        capture = LiveCapture([port], watch=watch, recorder=Recorder(Plan(str(log))))
        run(capture, lambda _: frames_of(capture) > 200)
        emulation.unplug(0)
        run(capture, lambda events: any(e.kind == "lost" for e in events))
        assert capture.gauges()[0].away
        emulation.replug(0)
        run(capture, lambda events: any(e.kind == "reopened" for e in events))
        before = frames_of(capture)
        run(capture, lambda _: frames_of(capture) > before + 200)
        capture.close()
    rows = [msgspec.json.decode(line) for line in (tmp_path / "heard.events.jsonl").read_text().splitlines()]
    kinds = [row["kind"] for row in rows]
    assert kinds.index("lost") < kinds.index("reopened")
    assert any("away" in note for note in capture.result().source["notes"])
    assert not [event for event in watch.events if event.kind == "late" and not event.doubtful]


def test_without_automatic_reconnection_it_waits_to_be_asked(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        capture = LiveCapture([parse_port(f"serial:{emulation.paths[0]}")], reconnect=False)
        emulation.unplug(0)
        run(capture, lambda events: any(e.kind == "lost" for e in events))
        emulation.replug(0)
        until = time.monotonic() + 2.5
        while time.monotonic() < until:
            assert not capture.step().frames
        capture.listener.reconnect()
        run(capture, lambda _: frames_of(capture) > 20)
        capture.close()


def test_an_adapter_that_comes_back_without_silence_is_not_used(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        capture = LiveCapture([parse_port(f"serial:{emulation.paths[0]}")])
        emulation.unplug(0)
        run(capture, lambda events: any(e.kind == "lost" for e in events))
        emulation.adapters[0].faults.refuse_listen_only = True
        emulation.replug(0)
        events = run(capture, lambda events: any(e.kind == "refused" for e in events))
        assert "listen only" in next(e for e in events if e.kind == "refused").text
        capture.close()
        assert emulation.adapters[0].bit_rate is None


def test_a_refused_port_is_an_error_of_the_opening(healthy):
    with Emulation(Faults(), Faults(refuse_listen_only=True), traffic=traffic_of(healthy)) as emulation:
        specs = [parse_port(f"serial:{path}", i) for i, path in enumerate(emulation.paths)]
        with pytest.raises(PortRefusedError) as refused:
            Listener(specs)
        assert refused.value.reason == "mode"


def test_virtual_in_this_process():
    sender = can.Bus(interface="virtual", channel="linkcheck-test", ignore_config=True)
    capture = LiveCapture([parse_port("virtual:linkcheck-test")])
    for number in range(500):
        sender.send(can.Message(arbitration_id=0x0CF00400 | number % 3, data=[number & 255] * 8))
    run(capture, lambda _: frames_of(capture) == 500)
    capture.close()
    sender.shutdown()
    assert [row.address for row in capture.result().channels["can0"].source_addresses] == [0, 1, 2]


def test_stamps_that_step_back_do_not_stop_the_time():
    """A sender whose clock was set back by five seconds; then the bus falls silent, and that must still be told."""
    sender = can.Bus(interface="virtual", channel="linkcheck-steps", ignore_config=True)
    spec = dataclasses.replace(parse_port("virtual:linkcheck-steps"), options={"preserve_timestamps": True})
    capture = LiveCapture([spec], triggers=Triggers(frozenset({"silence"})))
    for number in range(100):
        stamp = time.time() - 5.0 * (number >= 50)
        sender.send(can.Message(arbitration_id=0x0CF00400, data=[number] * 8, timestamp=stamp))
    run(capture, lambda _: frames_of(capture) == 100)
    run(capture, lambda events: any(e.kind == "trigger" for e in events), 15.0)
    capture.close()
    sender.shutdown()


SEND = """
import can, sys, time
bus = can.Bus(interface="udp_multicast", channel="239.74.163.2", port=int(sys.argv[1]), ignore_config=True)
for number in range(2000):
    bus.send(can.Message(arbitration_id=0x18FEF100 | number % 4, data=number.to_bytes(8, "little")))
    time.sleep(0.0005)
bus.shutdown()
"""


def test_udp_multicast_between_processes():
    spec = dataclasses.replace(parse_port("udp_multicast:239.74.163.2"), options={"port": 43987})
    capture = LiveCapture([spec])
    sender = subprocess.Popen([sys.executable, "-c", SEND, "43987"])
    # Datagrams may be lost between processes of a busy machine (RFC 768): that is the network's, not ours to hold.
    run(capture, lambda _: sender.poll() is not None and frames_of(capture) > 1000, 60.0)
    capture.close()
    assert sender.returncode == 0
    channel = capture.result().channels["can0"]
    assert 1000 < channel.frames <= 2000
    assert not channel.kinds.error


def test_frames_nobody_fetches_are_counted_as_ours(monkeypatch):
    monkeypatch.setattr(receiver, "MOST_WAITING", 1000)

    class Clogged:
        def write(self, _):
            time.sleep(60)

        def flush(self):
            pass

    outbox = receiver._Outbox(Clogged())
    kept = [outbox.send(receiver.FRAMES, bytes(800)) for _ in range(5)]
    assert kept[0]
    assert not kept[-1]


def test_two_ports_come_in_order_of_time(healthy):
    with Emulation(Faults(), Faults(), traffic=traffic_of(healthy)) as emulation:
        listener = Listener([parse_port(f"serial:{path}", i) for i, path in enumerate(emulation.paths)])
        seen, give_up = set(), time.monotonic() + 20
        while len(seen) < 2 and time.monotonic() < give_up:
            batch = listener.poll(0.2).batch
            assert (batch.time_ns[1:] >= batch.time_ns[:-1]).all()
            seen |= set(batch.channel.tolist())
        listener.close()
    assert seen == {0, 1}
    assert not (batch.flags & ERROR).any()


def test_lines_that_cannot_be_read_are_lost_frames_in_result_and_record(healthy, tmp_path):
    log = tmp_path / "heard.log"
    with Emulation(Faults(damage=0.2), traffic=traffic_of(healthy)) as emulation:
        capture = LiveCapture([parse_port(f"serial:{emulation.paths[0]}")], recorder=Recorder(Plan(str(log))))
        run(capture, lambda _: frames_of(capture) > 200 and capture.counters()["can0"].damaged > 10)
        capture.close()
    result = capture.result()
    assert result.source["dropped"] == capture.counters()["can0"].damaged
    assert [finding.finding for finding in result.findings] == ["recorder_lost_frames"]
    assert "DROPCOUNT" in log.read_text()
