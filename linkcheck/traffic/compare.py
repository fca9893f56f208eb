"""Before and after: what is different between two results, and whether that is better or worse.

Two captures, or a live bus against a capture: both are `TrafficResult`s. Figures are compared as rates and shares, so
the captures may differ in length; a difference that the length alone explains is not told.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from linkcheck.errors import UsageError
from linkcheck.j1939.addresses import TOOLS
from linkcheck.traffic.result import ChannelResult, PgnRow, SourceRow, TrafficResult

__all__ = ["Change", "Comparison", "compare"]

_LOAD = 0.02  # of the bus; less is the day's doing
_PERIOD = 0.10  # real controllers run up to 10 % off (as in findings)
_MISSED = 0.02
_ENOUGH = 20  # frames of a message before its period is compared
_BATTERY_VOLTS = 0.3


@dataclass(frozen=True, slots=True)
class Change:
    """One difference.

    `kind`: who, errors, silence, load, period, code, bit_rate, voltage. `verdict`: better, worse, other.
    """

    kind: str
    verdict: str
    text: str
    before: float | int | str | None
    after: float | int | str | None


@dataclass(frozen=True, slots=True)
class Comparison:
    """All differences of one channel, the worse ones first; and what was compared."""

    before: str
    after: str
    before_s: float
    after_s: float
    same: int
    changes: list[Change]


def compare(
    before: TrafficResult, after: TrafficResult, channel: tuple[str | None, str | None] = (None, None)
) -> Comparison:
    """Compare one channel of each result.

    Args:
        before: the first capture.
        after: the second one.
        channel: its name in each; None where there is only one, or where both have one of the same name.

    Raises:
        UsageError: it is not clear which channels to compare.

    """
    names = _channels(before, after, channel)
    a, b = before.channels[names[0]], after.channels[names[1]]
    changes = [change for rule in _RULES for change in rule(a, b)]
    order = {"worse": 0, "other": 1, "better": 2}
    same = len(_heard(a).keys() & _heard(b).keys())
    return Comparison(
        f"{before.source.get('path', '')} {names[0]}".strip(),
        f"{after.source.get('path', '')} {names[1]}".strip(),
        _length(a),
        _length(b),
        same,
        sorted(changes, key=lambda change: order[change.verdict]),
    )


def _channels(before: TrafficResult, after: TrafficResult, asked: tuple[str | None, str | None]) -> tuple[str, str]:
    shared = sorted(before.channels.keys() & after.channels.keys())
    picked = []
    for result, name in zip((before, after), asked, strict=True):
        have = sorted(result.channels)
        where = str(result.source.get("path", ""))
        if not have:
            raise UsageError("There are no frames to compare.", where=where)
        choice = name or (have[0] if len(have) == 1 else shared[0] if len(shared) == 1 else None)
        if choice not in have:
            raise UsageError(f"Which channel? It has {', '.join(have)}.", where=where, todo="Name one with --channel.")
        picked.append(choice)
    return picked[0], picked[1]


def _length(channel: ChannelResult) -> float:
    return (channel.last_s or 0.0) - (channel.first_s or 0.0)


def _heard(channel: ChannelResult) -> dict[int, SourceRow]:
    return {row.address: row for row in channel.source_addresses}


def _who(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    before, after = _heard(a), _heard(b)
    for address in sorted(before.keys() - after.keys()):
        row = before[address]
        tool = address in TOOLS
        # A message sent once an hour is not missed in a capture of a minute.
        rare = row.frames < 3 or _length(b) < 3 * row.longest_silence_s
        verdict = "other" if tool or rare else "worse"
        more = " (it came and went before; the second capture may be too short)" if rare and not tool else ""
        yield Change("who", verdict, f"{address} ({row.name}) is gone{more}", row.frames, 0)
    for address in sorted(after.keys() - before.keys()):
        row = after[address]
        verdict = "other" if address in TOOLS else "better"
        yield Change("who", verdict, f"{address} ({row.name}) is new", 0, row.frames)
    for address in sorted(before.keys() & after.keys()):
        names = [{claim.name for claim in rows[address].claims} for rows in (before, after)]
        if all(names) and names[0] != names[1]:
            text = f"{address} ({after[address].name}) claims another NAME: another module, or newly programmed"
            yield Change("who", "other", text, ", ".join(sorted(names[0])), ", ".join(sorted(names[1])))


def _errors(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    rates = [c.error_frames.total / max(_length(c), 1.0) for c in (a, b)]
    if a.error_frames.total == b.error_frames.total == 0:
        return
    if max(rates) < 2 * min(rates) and min(rates) > 0:
        return
    verdict = "worse" if rates[1] > rates[0] else "better"
    told = [f"{c.error_frames.total} ({rate:.3g}/s)" for c, rate in zip((a, b), rates, strict=True)]
    text = f"error frames: {told[0]} before, {told[1]} after"
    yield Change("errors", verdict, text, rates[0], rates[1])


def _silences(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    counts = [{}, {}]  # type: list[dict[int, int]]
    for count, channel in zip(counts, (a, b), strict=True):
        for spell in channel.silence.spells:
            count[spell.address] = count.get(spell.address, 0) + 1
    for address in sorted(counts[0].keys() | counts[1].keys()):
        times = [count.get(address, 0) for count in counts]
        rates = [n / max(_length(c), 1.0) * 60 for n, c in zip(times, (a, b), strict=True)]
        if times[0] and times[1] and max(rates) < 2 * min(rates):
            continue
        verdict = "worse" if rates[1] > rates[0] else "better"
        row = _heard(b).get(address) or _heard(a)[address]
        text = f"{address} ({row.name}) fell silent {_times(times[0])} before, {_times(times[1])} after"
        yield Change("silence", verdict, text, times[0], times[1])


def _times(count: int) -> str:
    return {0: "never", 1: "once", 2: "twice"}.get(count, f"{count} times")


def _load(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    for name, before, after in (
        ("mean", a.bus_load.mean, b.bus_load.mean),
        ("of the worst second", a.bus_load.peak_1s, b.bus_load.peak_1s),
    ):
        if before is not None and after is not None and abs(after - before) > _LOAD:
            yield Change("load", "other", f"bus load {name} {before:.1%} before, {after:.1%} after", before, after)


def _periods(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    before, after = _heard(a), _heard(b)
    for address in sorted(before.keys() & after.keys()):
        old = {row.pgn: row for row in before[address].pgns}
        name = f"{address} ({after[address].name})"
        pairs = [(old[row.pgn], row) for row in after[address].pgns if row.pgn in old]
        pairs = [(was, now) for was, now in pairs if min(was.frames, now.frames) >= _ENOUGH]
        for was, now in pairs:
            yield from _period(f"{name} PGN {now.pgn}", was, now)
        yield from _missed(name, pairs)
        lost = [r for r in old.values() if r.frames >= _ENOUGH and r.pgn not in {x.pgn for x in after[address].pgns}]
        if lost and _length(b) > 3 * max((r.period_ms or 0) / 1000 for r in lost):
            text = f"{address} ({after[address].name}) no longer sends PGN {', '.join(str(r.pgn) for r in lost)}"
            yield Change("period", "other", text, len(lost), 0)


def _period(name: str, old: PgnRow, new: PgnRow) -> Iterator[Change]:
    if old.period_ms is None or new.period_ms is None:
        return
    slack = max(_PERIOD * old.period_ms, 2 * (old.jitter_ms or 0.0))
    if abs(new.period_ms - old.period_ms) > slack:
        text = f"{name} comes every {new.period_ms:.1f} ms, before every {old.period_ms:.1f} ms"
        yield Change("period", "other", text, old.period_ms, new.period_ms)


def _missed(name: str, pairs: list[tuple[PgnRow, PgnRow]]) -> Iterator[Change]:
    """Cycles missed, told once for an address by the message that changed most."""
    shares = [tuple(row.missed / (row.frames + row.missed) for row in pair) for pair in pairs]
    changed = [(was, now) for was, now in shares if abs(now - was) > _MISSED]
    if changed:
        was, now = max(changed, key=lambda share: abs(share[1] - share[0]))
        messages = f"{len(changed)} messages" if len(changed) > 1 else "one message"
        verdict = "worse" if now > was else "better"
        yield Change(
            "period", verdict, f"{name} misses {now:.1%} of the cycles of {messages}, before {was:.1%}", was, now
        )


def _codes(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    codes = [{(r.source_address, r.spn, r.fmi): r for r in c.trouble_codes if r.active} for c in (a, b)]
    for key in sorted(codes[0].keys() - codes[1].keys()):
        text = f"code gone: {key[0]} SPN {key[1]} FMI {key[2]}, {codes[0][key].text}"
        yield Change("code", "better" if key[0] in _heard(b) else "other", text, "active", None)
    for key in sorted(codes[1].keys() - codes[0].keys()):
        text = f"new code: {key[0]} SPN {key[1]} FMI {key[2]}, {codes[1][key].text}"
        yield Change("code", "worse", text, None, "active")


def _rate(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    told = [c.bit_rate for c in (a, b)]
    if told[0].value != told[1].value and all(rate.basis != "assumed" for rate in told):
        text = f"bit rate {told[0].value // 1000} kbit/s before, {told[1].value // 1000} after: not the same network?"
        yield Change("bit_rate", "other", text, told[0].value, told[1].value)


def _voltage(a: ChannelResult, b: ChannelResult) -> Iterator[Change]:
    for name, row in b.signals.items():
        old = a.signals.get(name)
        if not name.startswith("battery_potential") or old is None or old.minimum is None or row.minimum is None:
            continue
        if abs(row.minimum - old.minimum) > _BATTERY_VOLTS:
            verdict = "better" if row.minimum > old.minimum else "worse"
            volts = f"{old.minimum:.2f} V before, {row.minimum:.2f} V after"
            text = f"lowest battery potential seen by {row.source_address}: {volts}"
            yield Change("voltage", verdict, text, old.minimum, row.minimum)


_RULES = (_who, _errors, _silences, _codes, _periods, _load, _rate, _voltage)
