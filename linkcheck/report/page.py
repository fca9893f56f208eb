"""The report as one HTML file that needs nothing else: no network, no script; it prints on Letter and A4.

Everything a person typed is escaped by the template engine. Layout is in `report.html.j2` and `report.css`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import jinja2
from markupsafe import Markup

from linkcheck.errors import LinkcheckError
from linkcheck.jobs.traffic_summary import ChannelSummary, FindingSummary, SourceSummary, TrafficSummary
from linkcheck.pinout import Pinout, find_pinout, load_pinout
from linkcheck.report.content import BeliefStep, Report
from linkcheck.report.face_svg import face_svg
from linkcheck.report.pictures import picture
from linkcheck.report.plots import belief_plot, load_plot

__all__ = ["MARKS", "as_html", "environment", "local_time"]

HERE = Path(__file__).parent
MARKS = {"ok": ("✓", "ok"), "low": ("▼", "too low"), "high": ("▲", "too high"), "other": ("✗", "not as expected")}
PART_NAMES = ("complaint", "cause", "correction", "confirmation")


def as_html(report: Report) -> str:
    """The whole report."""
    pinout = _pinout(report) if report.found else None
    return (
        environment()
        .get_template("report.html.j2")
        .render(
            report=report,
            css=Markup((HERE / "report.css").read_text(encoding="utf-8")),  # noqa: S704  our own file
            marks=MARKS,
            facts=list(_facts(report)),
            parts=[(name.capitalize(), getattr(report, name)) for name in PART_NAMES],
            faces=_faces(report, pinout),
            long=pinout is not None and pinout.shape != "circle",
            photos=[(photo, picture(photo.path)) for photo in report.photos],
            proof=any(row.proof for row in report.readings),
            belief=belief_plot(report.belief),
            belief_words=_belief_words(report.belief),
            traffic=_traffic(report.traffic),
            load=load_plot(report.traffic),
        )
    )


def environment() -> jinja2.Environment:
    """The template engine: everything is escaped, a missing name is an error."""
    engine = jinja2.Environment(
        loader=jinja2.FileSystemLoader(HERE), autoescape=True, undefined=jinja2.StrictUndefined, trim_blocks=True
    )
    engine.filters |= {"ohms": _ohms, "local": local_time, "percent": _percent, "offset": _offset}
    return engine


def local_time(at: datetime) -> str:
    """As the clock on the wall said it."""
    return f"{at.astimezone():%Y-%m-%d %H:%M}"


def _offset(at: datetime) -> str:
    return f"{at.astimezone():%z}"


def _ohms(text: str) -> str:
    """With the sign for ohms."""
    return re.sub(r"(?<=\d )([kM]?)ohm\b", r"\1Ω", text)


def _percent(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _facts(report: Report) -> Iterator[tuple[str, str]]:
    intake = report.intake
    yield "Connector", report.connector.title or report.connector.name
    yield "System", f"{intake.system_volts:g} V"
    if intake.bit_rate:
        yield "Bit rate", f"{intake.bit_rate / 1000:g} kbit/s"
    if intake.odometer:
        yield "Odometer", intake.odometer
    yield "Begun", local_time(report.created_at)
    yield "Last entry", local_time(report.changed_at)
    yield "Technician", report.technician or "not entered"
    yield "Meter", report.meter or "not entered"
    yield "Adapter", report.adapter or "not entered"


def _pinout(report: Report) -> Pinout | None:
    try:
        return load_pinout(find_pinout(report.connector.name))
    except LinkcheckError:
        return None  # the report was composed with it; it may have gone since


def _faces(report: Report, pinout: Pinout | None) -> list[Markup]:
    if pinout is None or report.found is None:
        return []
    bad, behind = report.found.cavities, report.found.behind
    drawn = [face_svg(pinout, "mating", bad, behind), face_svg(pinout, "wire", bad, behind)]
    return [Markup(each) for each in drawn]  # noqa: S704  escaped where it was made


def _belief_words(belief: list[BeliefStep]) -> str:
    if not belief or not belief[-1].suspects:
        return ""
    first = belief[-1].suspects[0]
    return f"After {belief[-1].n} readings: {first.title}, {_percent(first.probability)}."


# Traffic -------------------------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class _Traffic:
    columns: list[str]
    rows: list[tuple[str, list[str]]]
    findings: list[tuple[str, list[FindingSummary]]]


def _traffic(traffic: dict[str, TrafficSummary]) -> _Traffic:
    """Every channel of every capture as a column."""
    told = [
        (f"{when} the repair", name, summary, channel)
        for when, summary in traffic.items()
        for name, channel in summary.channels.items()
    ]
    cells = [_cells(summary, channel) for _, _, summary, channel in told]
    rows = [(name, [each[name] for each in cells]) for name in (cells[0] if cells else ())]
    findings = [
        (f"{title}, {name}", [each for each in channel.findings if each.severity != "note"])
        for title, name, _, channel in told
    ]
    columns = [f"{title.capitalize()}, {name}" for title, name, _, _ in told]
    return _Traffic(columns, rows, [row for row in findings if row[1]])


def _cells(summary: TrafficSummary, channel: ChannelSummary) -> dict[str, str]:
    load, errors = channel.bus_load, channel.error_frames
    span = None if channel.first_s is None or channel.last_s is None else channel.last_s - channel.first_s
    rate = channel.bit_rate
    network = [
        f"SPN {code.spn} FMI {code.fmi} from address {code.source_address}"
        for code in channel.trouble_codes
        if code.network
    ]
    heard = [f"{each.name or 'address'} ({each.address})" for each in channel.source_addresses]
    silences = [f"{s.name or s.address}, {s.longest_silence_s:.1f} s" for s in _quiet(channel)]
    return {
        "Capture": Path(summary.source.path).name + (" (stopped early)" if summary.partial else ""),
        "Length": "not known" if span is None else f"{span:.1f} s",
        "Frames": f"{channel.frames:,}",
        "Bit rate": "not known" if rate.value is None else f"{rate.value / 1000:g} kbit/s ({rate.basis})",
        "Bus load, mean": _share(load.mean),
        "Bus load, busiest second": _share(load.peak_1s),
        "A meter should read": "not known"
        if channel.meter is None
        else f"CAN high {channel.meter.can_high_v:.2f} V, low {channel.meter.can_low_v:.2f} V",
        "Error frames": f"{errors.total:,}",
        "Addresses heard": ", ".join(heard) or "none",
        "Longest silence": silences[0] if silences else "none",
        "Codes about the network": ", ".join(network) or "none",
    }


def _quiet(channel: ChannelSummary) -> list[SourceSummary]:
    return sorted(channel.source_addresses, key=lambda each: -each.longest_silence_s)


def _share(share: float | None) -> str:
    return "not known" if share is None else f"{100 * share:.1f} %"
