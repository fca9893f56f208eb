"""The driver against emulated adapters, good and bad."""

import time

import can
import pytest

from linkcheck.errors import UsageError
from linkcheck.frames import ERROR, EXTENDED
from linkcheck.frames.records import batch_of
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import Frame, traffic_of
from linkcheck.live.emulation import Emulation
from linkcheck.live.port import PortLostError, PortRefusedError, PortSpec, Silence
from linkcheck.live.serial_port import DONE, SerialPort


def opened(emulation, number=0, **words):
    return SerialPort(PortSpec("serial", emulation.paths[number], **{"bit_rate": 250_000, **words}))


def gather(port, until, patience_s=20.0):
    """Read until a condition on (batch, events) holds."""
    body, events, give_up = b"", [], time.monotonic() + patience_s
    while time.monotonic() < give_up:
        intake = port.read(0.05)
        body += intake.records
        events += intake.events
        batch = batch_of(body, ("can0",))
        if until(batch, events):
            return batch, events
    raise AssertionError(f"never came: {len(batch)} frames, {events}")


def test_a_good_adapter_proves_its_silence_and_gives_every_frame(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation)
        assert port.facts.silence is Silence.PROVEN
        assert port.facts.bit_rate == 250_000
        batch, _ = gather(port, lambda batch, _: len(batch) >= 300)
        port.close()
    sent = [
        (i, p.hex())
        for i, f, p in zip(
            healthy.identifier.tolist(),
            healthy.flags.tolist(),
            (healthy.payload(r) for r in range(len(healthy))),
            strict=True,
        )
        if not f & ERROR
    ]
    heard = [(int(batch.identifier[r]), batch.payload(r).hex()) for r in range(len(batch))]
    start = next(k for k in range(len(sent)) if sent[k : k + 20] == heard[:20])
    assert sorted(heard[:200]) == sorted(sent[start : start + 200])


@pytest.mark.parametrize(
    ("faults", "reason"),
    [
        (Faults(refuse_rate=True), "rate"),
        (Faults(refuse_listen_only=True), "mode"),
        (Faults(mute=True), "mute"),
        (Faults(takes_silently=True), "mute"),
    ],
)
def test_every_refusal_is_told_for_what_it_is_and_leaves_the_bus_closed(faults, reason):
    with Emulation(faults) as emulation:
        with pytest.raises(PortRefusedError) as refused:
            opened(emulation)
        assert refused.value.reason == reason
        give_up = time.monotonic() + 10
        while emulation.adapters[0].bit_rate is not None and time.monotonic() < give_up:
            time.sleep(0.01)
        assert emulation.adapters[0].bit_rate is None


def test_an_adapter_that_never_answers_is_used_only_when_the_user_says_so(healthy):
    with Emulation(Faults(takes_silently=True), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation, accept_unproven=True)
        assert port.facts.silence is Silence.CLAIMED
        assert port.facts.bit_rate is None
        gather(port, lambda batch, _: len(batch) > 20)
        port.close()


def test_python_cans_own_driver_cannot_tell_a_refusal():
    """Why there is a driver of our own: the stock one opens an adapter that refused both rate and silence."""
    with Emulation(Faults(refuse_rate=True, refuse_listen_only=True)) as emulation:
        bus = can.Bus(
            interface="slcan",
            channel=emulation.paths[0],
            bitrate=250_000,
            listen_only=True,
            sleep_after_open=0.05,
            ignore_config=True,
        )
        bus.shutdown()


def test_listening_only_neither_acknowledges_nor_disturbs_even_at_a_wrong_rate(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation, bit_rate=500_000)
        batch, _ = gather(port, lambda batch, _: len(batch) >= 10)
        port.close()
        assert (batch.flags & ERROR).all()
        assert emulation.bus.disturbed == 0
        active = opened(emulation, bit_rate=500_000, active=True)
        gather(active, lambda batch, _: len(batch) >= 10)
        active.close()
        assert emulation.bus.disturbed > 0


def test_a_listener_alone_with_a_sender_does_not_acknowledge_it():
    with Emulation(Faults(), Faults()) as emulation:
        listener, sender = opened(emulation, 0), opened(emulation, 1, active=True)
        sender.send(0x18FEF1F9, EXTENDED, bytes(8))
        batch, _ = gather(sender, lambda batch, _: any(d[1] & 0x20 for d in batch.data))  # transmit errors passive
        assert (batch.identifier & 0x20).any()  # no acknowledgement
        assert emulation.bus.on_bus == 0
        with pytest.raises(UsageError):
            listener.send(0x18FEF1F9, EXTENDED, bytes(8))
        listener.close()
        sender.close()


def test_what_is_sent_arrives_and_is_confirmed():
    with Emulation(Faults(), Faults()) as emulation:
        one, two = (opened(emulation, i, active=True) for i in (0, 1))
        for number in range(50):
            one.send(0x18FF0000 | number, EXTENDED, bytes([number] * 8))
        batch, _ = gather(two, lambda batch, _: len(batch) >= 50)
        assert [int(i) & 0xFF for i in batch.identifier] == list(range(50))
        gather(one, lambda *_: one.confirmed >= 50)
        assert one.refused == 0
        one.close()
        two.close()


def test_a_pulled_plug_is_told_and_closing_afterwards_does_not_raise(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation)
        emulation.unplug(0)
        with pytest.raises(PortLostError):
            gather(port, lambda *_: False, 5.0)
        port.close()
        with pytest.raises(PortRefusedError) as refused:
            opened(emulation)
        assert refused.value.reason == "absent"
        emulation.replug(0)
        opened(emulation).close()


def test_an_adapter_that_hangs_is_told_and_so_is_its_return(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation)
        emulation.call(lambda _: emulation.adapters[0].stall(2.0))
        _, events = gather(port, lambda _, events: any(e.kind == "answers_again" for e in events))
        port.close()
    assert [e.kind for e in events if e.kind in ("stalled", "answers_again")] == ["stalled", "answers_again"]


def test_an_overrun_in_the_adapter_is_counted(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy), buffer=200) as emulation:
        port = opened(emulation)
        emulation.call(lambda _: emulation.adapters[0].stall(1.0))
        gather(port, lambda _, events: any(e.kind == "overrun" for e in events))
        assert port.counters().adapter >= 1
        port.close()


def test_garbled_lines_are_counted_and_make_no_ghost_frames(healthy):
    known = {(int(i), healthy.payload(r)) for r, i in enumerate(healthy.identifier)}
    with Emulation(Faults(damage=0.2), traffic=traffic_of(healthy)) as emulation:
        port = opened(emulation)
        batch, _ = gather(port, lambda batch, _: len(batch) > 400 and port.counters().damaged > 20)
        port.close()
    assert all((int(batch.identifier[r]), batch.payload(r)) in known for r in range(len(batch)))


def test_an_adapter_without_status_is_still_listened_to(healthy):
    with Emulation(Faults(no_status=True), traffic=traffic_of(healthy), reports_errors=False) as emulation:
        port = opened(emulation)
        gather(port, lambda batch, _: len(batch) > 50)
        assert port.counters().adapter is None  # unknown is not zero
        port.close()


def test_errors_that_only_the_status_tells_become_error_frames(healthy):
    with Emulation(Faults(), traffic=traffic_of(healthy), reports_errors=False) as emulation:
        port = opened(emulation)
        gather(port, lambda batch, _: len(batch) > 20)
        emulation.call(lambda bus: bus.break_frames(1))
        batch, _ = gather(port, lambda batch, _: bool((batch.flags & ERROR).any()))
        port.close()
    assert int(batch.identifier[(batch.flags & ERROR) != 0][0]) == 0x80


def test_an_open_bus_left_by_another_program_is_closed_first():
    with Emulation(Faults()) as emulation:
        first = opened(emulation)
        first._line.close()  # a program that crashed
        second = opened(emulation)
        assert second.command(b"C") == DONE
        second.close()


def test_rates_no_adapter_knows_are_refused_before_anything_is_sent():
    with Emulation(Faults()) as emulation, pytest.raises(UsageError):
        opened(emulation, bit_rate=123_456)


def test_an_emulated_frame_with_the_lowest_identifier_goes_first():
    with Emulation(Faults(), Faults()) as emulation:
        port = opened(emulation)

        def crowd(bus):
            for identifier in (0x18FF0003, 0x0CF00001, 0x18FF0002):
                bus.put(Frame(identifier, EXTENDED, 8, bytes(8)))

        emulation.bus.modules = True
        emulation.call(crowd)
        batch, _ = gather(port, lambda batch, _: len(batch) >= 3)
        port.close()
    assert batch.identifier.tolist() == [0x0CF00001, 0x18FF0002, 0x18FF0003]
