"""The plots of a report as SVG files in a data address: the belief over the walk, the load before and after.

Matplotlib is imported only here, when a plot is drawn, with its SVG canvas and without pyplot's state. Lines differ by
mark and are named where they end, so that colour only helps. The same report gives the same bytes.
"""

from __future__ import annotations

import base64
import io
import itertools
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from linkcheck.jobs.traffic_summary import ChannelSummary, TrafficSummary
from linkcheck.report.content import BeliefStep

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["belief_plot", "load_plot"]

LINES, LIKELY = 5, 0.1  # suspects drawn: so many, of those that ever had so much
STYLES = (("#0b5394", "o"), ("#b45f06", "s"), ("#38761d", "^"), ("#741b47", "D"), ("#444444", "v"))
REPAIR = "#777777"
INCH_WIDTH = 7.2
SETTINGS: dict[Any, Any] = {
    "svg.fonttype": "path",  # looks the same wherever it is opened
    "svg.hashsalt": "linkcheck",
    "font.size": 9.0,
    "axes.spines.top": False,
    "axes.spines.right": False,
}


def belief_plot(belief: Sequence[BeliefStep]) -> str:
    """The probability of the leading suspects after each reading, as a data address; empty without readings."""
    if not belief:
        return ""
    figure, context = _figure(3.4)
    with context:
        axes = figure.add_subplot()
        for (fault, name), (colour, mark) in zip(_leading(belief), STYLES, strict=False):
            shares = [_share(step, fault) for step in belief]
            label = f"{name}: most {max(shares):.0%}, at the end {shares[-1]:.0%}"
            axes.plot([step.n for step in belief], shares, color=colour, marker=mark, markersize=4, label=label)
        for before, after in itertools.pairwise(belief):
            if after.round != before.round:
                axes.axvline(after.n - 0.5, color=REPAIR, linewidth=1, linestyle="--")
                axes.text(after.n - 0.45, 1.04, "repair", color=REPAIR)
        axes.set(ylim=(-0.02, 1.02), xlim=(0.7, belief[-1].n + 0.3), xlabel="reading", ylabel="probability")
        axes.set_yticks([0, 0.25, 0.5, 0.75, 1], ["0 %", "25 %", "50 %", "75 %", "100 %"])
        axes.set_xticks([step.n for step in belief][:: 1 + len(belief) // 25])
        figure.legend(loc="outside lower left", frameon=False, fontsize=8.5)
        axes.grid(visible=True, axis="y", color="#dddddd", linewidth=0.6)
        return _address(figure)


def load_plot(traffic: dict[str, TrafficSummary]) -> str:
    """Bus load over time of each capture, one above the other on one scale; empty where none has it."""
    rows = [
        (f"{when} the repair, {name}", channel)
        for when, summary in traffic.items()
        for name, channel in summary.channels.items()
        if channel.bus_load.series is not None and channel.bus_load.series.mean
    ]
    if not rows:
        return ""
    figure, context = _figure(0.6 + 1.3 * len(rows))
    with context:
        top = max(max(_series(channel).peak_100ms) for _, channel in rows)
        for number, (title, channel) in enumerate(rows, 1):
            axes = figure.add_subplot(len(rows), 1, number)
            series = _series(channel)
            times = [series.step_s * k for k in range(len(series.mean))]
            axes.fill_between(times, series.mean, step="post", color=STYLES[0][0], alpha=0.35, linewidth=0)
            axes.step(times, series.peak_100ms, where="post", color=STYLES[1][0], linewidth=0.9)
            axes.set_title(f"{title}: filled is the mean, the line the busiest 100 ms", loc="left", fontsize=9)
            axes.set(ylim=(0, max(0.1, top * 1.1)), xlim=(0, max(times[-1], series.step_s)), ylabel="bus load")
            axes.yaxis.set_major_formatter(lambda value, _: f"{value:.0%}")
        axes.set_xlabel("seconds from the start of the capture")
        return _address(figure)


def _leading(belief: Sequence[BeliefStep]) -> list[tuple[str, str]]:
    """Faults that were ever likely, the most certain at any time first, with their titles."""
    most: dict[tuple[str, str], float] = {}
    for step in belief:
        for suspect in step.suspects:
            key = (suspect.fault, suspect.title)
            most[key] = max(most.get(key, 0.0), suspect.probability)
    likely = [key for key in most if most[key] >= LIKELY] or list(most)
    return sorted(likely, key=lambda key: -most[key])[:LINES]


def _share(step: BeliefStep, fault: str) -> float:
    return next((suspect.probability for suspect in step.suspects if suspect.fault == fault), 0.0)


def _series(channel: ChannelSummary) -> Any:  # noqa: ANN401  a SeriesSummary, which the rows were chosen by
    return channel.bus_load.series


def _figure(inch_height: float) -> tuple[Figure, Any]:
    """An empty figure, and the settings to draw and save it with."""
    import matplotlib as mpl  # noqa: PLC0415  half a second; only a report with plots pays it
    from matplotlib.backends.backend_svg import FigureCanvasSVG  # noqa: PLC0415
    from matplotlib.figure import Figure  # noqa: PLC0415

    figure = Figure(figsize=(INCH_WIDTH, inch_height), layout="constrained")
    FigureCanvasSVG(figure)
    return figure, mpl.rc_context(SETTINGS)


def _address(figure: Figure) -> str:
    out = io.BytesIO()
    figure.savefig(out, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return "data:image/svg+xml;base64," + base64.b64encode(out.getvalue()).decode()
