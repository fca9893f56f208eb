"""The traffic page's tables: addresses with their PGNs one level down, trouble codes, sensors."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual.widgets import DataTable

from linkcheck.app.screens.traffic.result_table import Column, Line, ResultTable

if TYPE_CHECKING:
    from linkcheck.traffic.result import PgnRow, SignalRow, SourceRow, TroubleCodeRow

__all__ = ["AddressTable", "CodeTable", "SensorTable"]


class AddressTable(ResultTable):
    """Addresses; enter opens and closes an address's PGNs."""

    COLUMNS = (
        Column("hex", 4, lambda row: row.address),
        Column("dec", 5, lambda row: row.address, number=True),
        Column("name", 18, lambda row: row.name, flexible=True),
        Column("frames", 9, lambda row: row.frames, largest_first=True, number=True),
        Column("bits", 5, lambda row: row.share_of_bits, largest_first=True, number=True),
        Column("gap s", 9, lambda row: row.longest_silence_s, largest_first=True, number=True),
        Column("period ms", 12, lambda row: len(row.pgns), largest_first=True, number=True),
    )

    def __init__(self, *, id: str | None = None) -> None:  # noqa: A002  as all widgets have it
        super().__init__(id=id)
        self._open: set[int] = set()

    def open(self, address: int) -> None:
        """Show an address with its PGNs."""
        self._open.add(address)
        self.redraw()
        names = [str(row.key.value) for row in self.ordered_rows]
        if str(address) in names:
            self.move_cursor(row=names.index(str(address)))

    def on_data_table_row_selected(self, event: DataTable.RowSelected) -> None:
        """Open or close an address."""
        event.stop()
        name = str(event.row_key.value or "")
        if name:
            self._open ^= {int(name.split("/", maxsplit=1)[0])}
            self.redraw()

    def lines(self) -> Sequence[Line]:
        """Addresses, and below the open ones their PGNs."""
        found: list[Line] = []
        for source in self.ordered(self.channel.source_addresses if self.channel else ()):
            found.append(_source_line(source, opened=source.address in self._open))
            if source.address in self._open:
                found += [_pgn_line(source, row) for row in source.pgns]
        return found


def _source_line(source: SourceRow, *, opened: bool) -> Line:
    claims = " ".join(claim.name for claim in source.claims)
    pgns = " ".join(f"{row.pgn} {row.name}" for row in source.pgns)
    return Line(
        str(source.address),
        (
            f"{'▾' if opened else '▸'}{source.address:02X}",
            str(source.address),
            source.name,
            f"{source.frames:,}",
            f"{source.share_of_bits:.1%}",
            f"{source.longest_silence_s:.3f}",
            f"{len(source.pgns)} PGNs",
        ),
        f"{source.address:02X} {source.address} {source.name} {claims} {pgns}",
    )


def _pgn_line(source: SourceRow, row: PgnRow) -> Line:
    period = "-" if row.period_ms is None else f"{row.period_ms:.1f} ±{row.jitter_ms:.1f}"
    lost = f"{row.missed} lost" if row.missed else ""
    return Line(
        f"{source.address}/{row.pgn}",
        ("", str(row.pgn), row.name, f"{row.frames:,}", "", lost, period),
        f"{source.address:02X} {source.address} {source.name} {row.pgn} {row.name}",
    )


class CodeTable(ResultTable):
    """Trouble codes; those about the network say so."""

    COLUMNS = (
        Column("from", 5, lambda row: row.source_address),
        Column("SPN", 7, lambda row: row.spn, number=True),
        Column("FMI", 4, lambda row: row.fmi, number=True),
        Column("state", 7, lambda row: not row.active),
        Column("network", 8, lambda row: row.network is None),
        Column("count", 6, lambda row: row.count or 0, largest_first=True, number=True),
        Column("what", 22, lambda row: row.text, flexible=True),
    )

    def lines(self) -> Sequence[Line]:
        """The codes."""
        return [_code_line(row) for row in self.ordered(self.channel.trouble_codes if self.channel else ())]


def _code_line(row: TroubleCodeRow) -> Line:
    cells = (
        f"{row.source_address:02X}",
        str(row.spn),
        str(row.fmi),
        "active" if row.active else "stored",
        "network" if row.network else "",
        "" if row.count is None else str(row.count),
        row.text,
    )
    return Line(f"{row.source_address}/{row.spn}/{row.fmi}/{row.active}", cells, " ".join((*cells, row.network or "")))


class SensorTable(ResultTable):
    """Physical signals: first, last, lowest and highest value."""

    COLUMNS = (
        Column("signal", 24, lambda item: item[0], flexible=True),
        Column("first", 9, lambda item: item[1].first or 0.0, number=True),
        Column("last", 9, lambda item: item[1].last or 0.0, number=True),
        Column("lowest", 9, lambda item: item[1].minimum or 0.0, number=True),
        Column("highest", 9, lambda item: item[1].maximum or 0.0, largest_first=True, number=True),
        Column("unit", 6, lambda item: item[1].unit),
    )

    def lines(self) -> Sequence[Line]:
        """Signals with at least one valid value."""
        signals = self.channel.signals if self.channel else {}
        return [_sensor_line(name, row) for name, row in self.ordered(signals.items()) if row.valid]


def _sensor_line(name: str, row: SignalRow) -> Line:
    values = (row.first, row.last, row.minimum, row.maximum)
    cells = (name, *("" if value is None else f"{value:,.2f}" for value in values), row.unit)
    return Line(name, cells, name.replace("_", " ") + " " + name)
