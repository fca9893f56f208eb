"""From the counts of one channel to its `ChannelResult`: addresses put together from keys, seconds from nanoseconds."""

from __future__ import annotations

import dataclasses
from collections import Counter
from typing import TYPE_CHECKING, TypeVar

from linkcheck.frames import ERROR, EXTENDED, REMOTE
from linkcheck.j1939.addresses import address_name
from linkcheck.j1939.identifier import split
from linkcheck.j1939.messages import nominal_period_ms, pgn_name
from linkcheck.traffic import result as rows
from linkcheck.traffic.assemble_messages import claim_rows, code_rows, request_rows, transport_summary
from linkcheck.traffic.assemble_silence import silence_summary
from linkcheck.traffic.findings import channel_findings
from linkcheck.traffic.meter import meter_volts
from linkcheck.traffic.options import KeyTable, Options
from linkcheck.traffic.periods import Period, period
from linkcheck.traffic.senders import Senders
from linkcheck.traffic.series import Peak

if TYPE_CHECKING:
    from linkcheck.traffic.channel import ChannelAnalysis

__all__ = ["assemble_channel"]

_Label = TypeVar("_Label", int, str)


def assemble_channel(channel: ChannelAnalysis, keys: KeyTable, options: Options) -> rows.ChannelResult:
    """Everything about one channel, findings included."""
    rate = channel.rate.decide(options.bit_rate)
    span_ns = (channel.last_ns or 0) - (channel.first_ns or 0)
    span_bits = rate.value * span_ns / 1e9
    if options.timeless:
        span_ns, span_bits = 0, 0.0
    # The data phase of CAN FD runs at a second rate; without it, its bits cannot be turned into time.
    fast = channel.fast_bits * rate.value / options.fast_bit_rate if options.fast_bit_rate else 0.0
    share = channel.dominant_bits / span_bits if span_bits else None
    by_address = channel.senders.of_address(keys.identifier, keys.flags)
    periods = {k: period(channel.senders.tally, k) for ks in by_address.values() for k in ks}
    result = rows.ChannelResult(
        frames=channel.frames,
        first_s=None if options.timeless else _seconds(channel.first_ns),
        last_s=None if options.timeless else _seconds(channel.last_ns),
        kinds=rows.Activity(
            channel.data_frames,
            channel.count_of(REMOTE),
            channel.errors.total,
            channel.fd_frames,
            channel.extended_frames,
            channel.frames - channel.extended_frames - channel.errors.total,
        ),
        bit_rate=rate,
        wire_bits=channel.wire_bits,
        dominant_bits=channel.dominant_bits,
        dominant_share=share,
        bus_load=_load(channel, rate.value, (channel.wire_bits + fast) / span_bits if span_bits else None),
        meter=None if share is None else meter_volts(min(share, 1.0)),
        error_frames=_errors(channel),
        source_addresses=[_source(channel, address, ks, keys, periods) for address, ks in by_address.items()],
        standard_identifiers=_standard(channel, keys),
        silence=silence_summary(channel.senders, by_address, periods, channel.first_ns or 0, channel.last_ns or 0)
        if span_ns
        else rows.SilenceSummary([], [], [], []),
        trouble_codes=code_rows(channel.messages),
        transport=transport_summary(channel.messages),
        requests=request_rows(channel.messages),
        signals=channel.signals.rows(),
        findings=[],
    )
    return dataclasses.replace(result, findings=channel_findings(channel, result, options))


def _seconds(time_ns: int | None) -> float | None:
    return None if time_ns is None else time_ns / 1e9


def _load(channel: ChannelAnalysis, rate: int, mean: float | None) -> rows.BusLoad:
    if mean is None:
        return rows.BusLoad(None, None, None, None, None)
    view = channel.load.snapshot(channel.last_ns or 0)
    window = rate / 10  # bits in 100 ms
    per_cell = rate * view.cell_ns / 1e9

    def share(peak: Peak | None, bits: float) -> float:
        # A capture shorter than the window has no complete one: its mean is all there is.
        return mean if peak is None else peak.value / bits

    last_cell = ((channel.last_ns or 0) - view.first_ns) % view.cell_ns / view.cell_ns
    means = [float(bits) / per_cell for bits in view.sums[0]]
    if means and last_cell > 0.05:  # the last cell is filled only as far as the capture goes
        means[-1] /= last_cell
    series = rows.LoadSeries(view.first_ns / 1e9, view.cell_ns / 1e9, means, [float(b) / window for b in view.most])
    return rows.BusLoad(
        mean,
        share(view.peak_100ms, window),
        share(view.peak_1s, rate),
        None if view.peak_1s is None else view.peak_1s.start_ns / 1e9,
        series,
    )


def _source(
    channel: ChannelAnalysis, address: int, ks: list[int], keys: KeyTable, periods: dict[int, Period | None]
) -> rows.SourceRow:
    senders = channel.senders
    by_pgn: dict[int, list[int]] = {}
    for k in ks:
        by_pgn.setdefault(split(int(keys.identifier[k])).pgn, []).append(k)
    return rows.SourceRow(
        address=address,
        name=address_name(address),
        frames=int(senders.tally.count[ks].sum()),
        share_of_bits=float(senders.tally.bits[ks].sum()) / max(channel.wire_bits, 1),
        first_s=int(senders.tally.first_ns[ks].min()) / 1e9,
        last_s=int(senders.tally.last_ns[ks].max()) / 1e9,
        longest_silence_s=int(senders.tally.longest_ns[address]) / 1e9,
        claims=claim_rows(channel.messages, address),
        pgns=[_pgn(senders, pgn, members, periods) for pgn, members in sorted(by_pgn.items())],
    )


def _pgn(senders: Senders, pgn: int, members: list[int], periods: dict[int, Period | None]) -> rows.PgnRow:
    main = max(members, key=lambda k: int(senders.tally.count[k]))
    found = periods[main]
    return rows.PgnRow(
        pgn=pgn,
        name=pgn_name(pgn),
        frames=int(senders.tally.count[members].sum()),
        period_ms=None if found is None else found.period_ns / 1e6,
        jitter_ms=None if found is None else found.jitter_ns / 1e6,
        nominal_ms=nominal_period_ms(pgn),
        missed=0 if found is None else found.missed,
        first_s=int(senders.tally.first_ns[members].min()) / 1e9,
        last_s=int(senders.tally.last_ns[members].max()) / 1e9,
    )


def _standard(channel: ChannelAnalysis, keys: KeyTable) -> list[rows.StandardRow]:
    senders = channel.senders
    n = len(senders.tally.count)
    wanted = [k for k in range(n) if senders.tally.count[k] and not keys.flags[k] & (EXTENDED | ERROR)]
    found = {k: period(senders.tally, k) for k in wanted}
    listed = [
        rows.StandardRow(
            int(keys.identifier[k]), int(senders.tally.count[k]), p.period_ns / 1e6 if (p := found[k]) else None
        )
        for k in wanted
    ]
    return sorted(listed, key=lambda row: row.identifier)


def _ranked(counter: Counter[_Label]) -> dict[_Label, int]:
    """Most frequent first; equals in order of their names, so that no batch boundary shows."""
    return dict(sorted(counter.items(), key=lambda item: (-item[1], item[0])))


def _errors(channel: ChannelAnalysis) -> rows.ErrorSummary:
    errors = channel.errors
    view = errors.series.snapshot(channel.last_ns or 0)
    peak = None if view.peak_1s is None else view.peak_1s.value
    return rows.ErrorSummary(
        total=errors.total,
        by_class=_ranked(errors.by_class),
        by_protocol=_ranked(errors.by_protocol),
        by_location=_ranked(errors.by_location),
        by_transceiver=_ranked(errors.by_transceiver),
        by_controller=_ranked(errors.by_controller),
        surrounding={f"{address}": count for address, count in _ranked(errors.followed_by).items()},
        states=[rows.StateRow(change.time_ns / 1e9, change.state) for change in errors.states],
        tx_errors_max=errors.tx_errors_max,
        rx_errors_max=errors.rx_errors_max,
        first_s=_seconds(errors.first_ns),
        last_s=_seconds(errors.last_ns),
        peak_per_second=peak,
        series=[int(count) for count in view.sums[0]],
        series_step_s=view.cell_ns / 1e9 if errors.total else None,
    )
