"""The search for the bit rate: only in proven silence, and the bus is left alone."""

import pytest

from linkcheck.errors import UsageError
from linkcheck.live.emulated_adapter import Faults
from linkcheck.live.emulated_bus import traffic_of
from linkcheck.live.emulation import Emulation
from linkcheck.live.open_port import parse_port
from linkcheck.live.port import PortRefusedError, PortSpec
from linkcheck.live.rate_search import search_rates
from linkcheck.practice import simulate

RATES = (125_000, 250_000, 500_000)


def searched(emulation, seconds=0.7):
    return list(search_rates(parse_port(f"serial:{emulation.paths[0]}"), RATES, seconds))


@pytest.mark.parametrize("rate", [250_000, 500_000])
def test_the_rate_is_found_and_the_bus_is_left_alone(rate):
    batch = simulate("healthy", seconds=10, bit_rate=rate).batch
    with Emulation(Faults(), bit_rate=rate, traffic=traffic_of(batch)) as emulation:
        verdicts = searched(emulation)
        assert emulation.bus.disturbed == 0
    assert [v.verdict for v in verdicts] == ["errors only"] * RATES.index(rate) + ["traffic"]
    assert verdicts[-1].bit_rate == rate


def test_a_dead_bus_is_silent_at_every_rate():
    with Emulation(Faults()) as emulation:
        assert [v.verdict for v in searched(emulation, 0.3)] == ["silent"] * 3


def test_a_rate_the_adapter_refuses_is_said():
    with Emulation(Faults(refuse_rate=True)) as emulation:
        assert [v.verdict for v in searched(emulation, 0.3)] == ["refused"] * 3


@pytest.mark.parametrize("faults", [Faults(refuse_listen_only=True), Faults(takes_silently=True)])
def test_no_silence_no_search(faults, healthy):
    with Emulation(faults, traffic=traffic_of(healthy)) as emulation:
        with pytest.raises(PortRefusedError):
            searched(emulation)
        assert emulation.bus.disturbed == 0


def test_the_refusal_says_what_would_happen_to_the_bus():
    with Emulation(Faults(refuse_listen_only=True)) as emulation, pytest.raises(PortRefusedError) as refused:
        searched(emulation)
    assert "error flags" in refused.value.sentence


def test_the_systems_interfaces_are_not_ours_to_set():
    with pytest.raises(UsageError):
        list(search_rates(PortSpec("socketcan", "can0")))
