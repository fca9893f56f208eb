"""Error counters and states, rule by rule.

Each rule is paraphrased from the CAN Specification 2.0 (September 1991), part B, section 8, and
the same in ISO 11898-1.
"""

import pytest

from linkcheck.practice.confinement import ErrorCounters, ErrorState


def test_rule_1_receiver_counts_one_for_an_error():
    counters = ErrorCounters()
    counters.received_error()
    assert (counters.transmit, counters.receive) == (0, 1)


def test_rule_2_receiver_counts_eight_more_when_a_dominant_bit_follows_its_flag():
    counters = ErrorCounters()
    counters.received_error(dominant_after_flag=True)
    assert counters.receive == 1 + 8


def test_rule_3_sender_counts_eight_for_an_error_flag():
    counters = ErrorCounters()
    counters.sent_error_flag()
    assert (counters.transmit, counters.receive) == (8, 0)


def test_rule_3_exception_1_passive_sender_counts_no_missing_acknowledgement():
    # "can become error passive but not bus off due to this reason" (section 8, note on start-up)
    counters = ErrorCounters()
    for _ in range(1000):
        counters.not_acknowledged()
    assert counters.transmit == 128
    assert counters.state is ErrorState.PASSIVE


@pytest.mark.parametrize(("before", "after"), [(5, 4), (0, 0)])
def test_rule_7_success_takes_one_off_unless_already_zero(before, after):
    counters = ErrorCounters(transmit=before)
    counters.sent()
    assert counters.transmit == after


@pytest.mark.parametrize(
    ("before", "low", "high"), [(127, 126, 126), (1, 0, 0), (0, 0, 0), (128, 119, 127), (200, 119, 127)]
)
def test_rule_8_reception_takes_one_off_or_sets_between_119_and_127(before, low, high):
    counters = ErrorCounters(receive=before)
    counters.received()
    assert low <= counters.receive <= high


@pytest.mark.parametrize("counter", ["transmit", "receive"])
def test_rule_9_passive_when_a_counter_is_128_or_more(counter):
    assert ErrorCounters(**{counter: 127}).active
    assert ErrorCounters(**{counter: 128}).state is ErrorState.PASSIVE


def test_rule_10_bus_off_when_the_transmit_count_is_256_or_more():
    assert ErrorCounters(transmit=255).state is ErrorState.PASSIVE
    assert ErrorCounters(transmit=256).state is ErrorState.BUS_OFF
    assert ErrorCounters(receive=256).state is ErrorState.PASSIVE


def test_rule_11_active_again_when_both_counters_are_127_or_less():
    counters = ErrorCounters(transmit=128)
    counters.sent()
    assert counters.active


def test_rule_12_restart_sets_both_counters_to_zero():
    counters = ErrorCounters(transmit=256, receive=40)
    counters.restart()
    assert (counters.transmit, counters.receive, counters.state) == (0, 0, ErrorState.ACTIVE)


def test_warning_from_96():
    # Linux include/uapi/linux/can/error.h: CAN_ERROR_WARNING_THRESHOLD 96
    assert ErrorCounters(transmit=95).state is ErrorState.ACTIVE
    assert ErrorCounters(receive=96).state is ErrorState.WARNING
