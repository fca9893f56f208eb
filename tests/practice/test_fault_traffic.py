"""Recordings of practice trucks' buses, read by the analyser: they say what the adapter shows on the same truck."""

import pytest

from linkcheck.practice.fault_traffic import PLUGGED, record_traffic
from linkcheck.practice.hidden_truck import HiddenTruck, Probe
from linkcheck.practice.lesson import Lesson
from linkcheck.readers.candump import format_candump
from linkcheck.survey import CaptureFile
from linkcheck.traffic import Options

SECONDS = 3.0


@pytest.fixture
def analysed(tmp_path):
    def analyse(truck):
        made = record_traffic(truck, seconds=SECONDS)
        if made.recording is None:
            return None, made.words
        path = tmp_path / "bus.log"
        path.write_bytes(format_candump(made.recording.batch))
        return CaptureFile(str(path), Options()).run().channels["can0"], made.words

    return analyse


@pytest.mark.parametrize("fault", ["none", "module_unpowered", "module_open:high", "terminator_missing", "battery_low"])
def test_who_is_heard_is_who_the_circuit_lets_through(analysed, fault):
    truck = HiddenTruck([fault], 5)
    channel, _ = analysed(truck)
    assert tuple(row.address for row in channel.source_addresses) == truck.probe(Probe("listen"), PLUGGED).heard


def test_a_missing_terminator_brings_error_frames_and_its_repair_takes_them_away(analysed):
    truck = HiddenTruck(["terminator_missing"], 5)
    before, _ = analysed(truck)
    truck.without("terminator_missing")
    after, _ = analysed(truck)
    assert before.error_frames.total > 0
    assert after.error_frames.total == 0
    assert after.frames > 0


@pytest.mark.parametrize("fault", ["bit_rate", "stub_open:high", "module_dominant", "terminators_missing"])
def test_an_adapter_that_shows_errors_records_errors_only(analysed, fault):
    truck = HiddenTruck([fault], 5)
    assert truck.probe(Probe("listen"), PLUGGED).typed == "errors"
    channel, words = analysed(truck)
    assert "errors" in words
    assert channel.error_frames.total == channel.frames > 0


def test_a_held_bus_drives_the_receive_counter_up_and_nothing_is_sent(analysed):
    truck = HiddenTruck(["module_dominant"], 5)
    assert truck.held(PLUGGED)
    channel, _ = analysed(truck)
    # Error-passive from 128 on: CAN Specification 2.0 (1991), part B, section 8
    assert channel.error_frames.rx_errors_max >= 128
    assert not channel.error_frames.tx_errors_max


def test_alone_on_the_bus_the_tool_is_not_acknowledged(analysed):
    channel, words = analysed(HiddenTruck(["key_supply_dead"], 5))
    assert "no answer" in words
    assert channel.error_frames.by_class["no acknowledgement"] > 0


@pytest.mark.parametrize(("fault", "words"), [("adapter_power", "no power"), ("adapter_data", "not one frame")])
def test_where_there_is_nothing_to_record_it_says_why(analysed, fault, words):
    channel, said = analysed(HiddenTruck([fault], 5))
    assert channel is None
    assert words in said


def test_the_engine_computer_reports_the_volts_that_a_meter_reads(analysed):
    truck = HiddenTruck(["battery_low"], 5)
    posts = truck.probe(Probe("dc_volts", "battery_positive", "battery_negative"), PLUGGED).figure
    channel, _ = analysed(truck)
    reported = next(row for name, row in channel.signals.items() if name.startswith("battery_potential"))
    assert reported.mean == pytest.approx(posts, abs=0.5)


def test_the_same_truck_records_the_same_bytes():
    one, other = (record_traffic(HiddenTruck(["none"], 5), seconds=0.5).recording.batch for _ in range(2))
    assert format_candump(one) == format_candump(other)


def test_recording_puts_everything_back_and_takes_its_minutes():
    lesson = Lesson(HiddenTruck([], 5))
    step, _ = lesson.record(0.5)
    assert lesson.state == PLUGGED
    assert step.minutes == pytest.approx(1.8)  # key 0.3, adapter 1.0, listening 0.5
