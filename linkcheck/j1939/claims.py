"""Who claimed which address, as heard on the bus (SAE J1939-81).

`Claims` is fed address claims (PGN 60928) and answers questions about them; it neither sends nor keeps time. Two NAMEs
that claim one address contest it: the lower NAME keeps it and the other must move or say from address 254 that it
cannot claim any. The same claim over and over within a millisecond is one controller sending again and again because
nobody acknowledges: it is alone on its wires, or deaf. (A claim and its error flag last some 0.65 ms at 250 kbit/s; how
many repeats make a run is judgement, no source.)
"""

from __future__ import annotations

from dataclasses import dataclass

from linkcheck.j1939.identifier import NULL
from linkcheck.j1939.name import Name

__all__ = ["Claim", "Claims", "Contest"]

REPEAT_NS = 1_000_000  # longest time from one automatic repeat to the next, at 250 or 500 kbit/s
RUN = 8  # so many repeats in a row are no accident


@dataclass(frozen=True, slots=True)
class Claim:
    """One NAME at one address.

    Attributes:
        address: 0-253, or 254 for "cannot claim". name: who. count: claims heard.
        first_ns, last_ns: first and last of them. gap_min_ns: shortest time between two, None for a single one.
        longest_run: most claims in a row without a pause worth the name; `unacknowledged` judges it.

    """

    address: int
    name: Name
    count: int
    first_ns: int
    last_ns: int
    gap_min_ns: int | None
    longest_run: int

    @property
    def unacknowledged(self) -> bool:
        """Whether the claim was repeated as a controller does when nobody acknowledges."""
        return self.longest_run >= RUN


@dataclass(frozen=True, slots=True)
class Contest:
    """Several NAMEs at one address.

    Attributes:
        address: the address. names: who claimed it, the winner (the lowest) first.
        start_ns: when the second one claimed it.
        settled: every loser has since claimed another address or said that it cannot.

    """

    address: int
    names: tuple[Name, ...]
    start_ns: int
    settled: bool


@dataclass(slots=True)
class _Heard:
    first_ns: int
    last_ns: int
    count: int = 0
    gap_min_ns: int | None = None
    run: int = 0
    longest_run: int = 0

    def again(self, time_ns: int) -> None:
        gap = abs(time_ns - self.last_ns)
        if self.count:
            self.gap_min_ns = gap if self.gap_min_ns is None else min(gap, self.gap_min_ns)
        self.run = self.run + 1 if self.count and gap <= REPEAT_NS else 1
        self.longest_run = max(self.longest_run, self.run)
        self.count += 1
        self.last_ns = time_ns


class Claims:
    """Listens to the address claims on one channel.

    Args:
        max_claims: pairs of address and NAME kept.

    Attributes:
        malformed: claims that have not eight bytes. not_listed: claims beyond `max_claims` pairs.

    """

    def __init__(self, max_claims: int = 4096) -> None:
        self.malformed = 0
        self.not_listed = 0
        self._max_claims = max_claims
        self._heard: dict[tuple[int, int], _Heard] = {}  # by address and NAME value

    def feed(self, time_ns: int, source: int, data: bytes) -> None:
        """Take one address claim: PGN 60928, from `source`."""
        if len(data) != 8:
            self.malformed += 1
            return
        key = (source, int.from_bytes(data, "little"))
        if key not in self._heard:
            if len(self._heard) >= self._max_claims:
                self.not_listed += 1
                return
            self._heard[key] = _Heard(time_ns, time_ns)
        self._heard[key].again(time_ns)

    def claims(self) -> tuple[Claim, ...]:
        """Every NAME at every address, by address, then by NAME."""
        return tuple(
            Claim(
                address,
                Name.from_value(value),
                heard.count,
                heard.first_ns,
                heard.last_ns,
                heard.gap_min_ns,
                heard.longest_run,
            )
            for (address, value), heard in sorted(self._heard.items())
        )

    def cannot_claim(self) -> tuple[Claim, ...]:
        """Devices that said from address 254 that they found no address."""
        return tuple(claim for claim in self.claims() if claim.address == NULL)

    def contests(self) -> tuple[Contest, ...]:
        """Addresses that more than one NAME claimed."""
        by_address: dict[int, list[Claim]] = {}
        for claim in self.claims():
            if claim.address != NULL:
                by_address.setdefault(claim.address, []).append(claim)
        return tuple(
            Contest(
                address,
                tuple(claim.name for claim in rivals),
                sorted(claim.first_ns for claim in rivals)[1],
                all(self._gave_way(claim) for claim in rivals[1:]),
            )
            for address, rivals in by_address.items()
            if len(rivals) > 1
        )

    def _gave_way(self, loser: Claim) -> bool:
        """Whether the loser's last word was about another address."""
        return any(
            value == loser.name.value and address != loser.address and heard.last_ns >= loser.last_ns
            for (address, value), heard in self._heard.items()
        )
