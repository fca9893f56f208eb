"""The 64-bit NAME by which a device claims its address.

One value object and its bytes. Who claimed what and when is in `claims`.
Field order and widths: SAE J1939-81; the same in Linux kernel include/uapi/linux/can/j1939.h. On the wire the NAME is
little-endian. When two devices claim one address the numerically lower NAME keeps it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields

from linkcheck.errors import DataError

__all__ = ["Name"]

# Field widths from the least significant bit up.
_WIDTHS = {
    "identity": 21,
    "manufacturer": 11,
    "ecu_instance": 3,
    "function_instance": 5,
    "function": 8,
    "reserved": 1,
    "vehicle_system": 7,
    "vehicle_system_instance": 4,
    "industry_group": 3,
    "arbitrary_address_capable": 1,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Name:
    """A NAME taken apart; every field a number, in the order of its bits from the lowest up.

    Attributes:
        identity: serial number the maker gave, 21 bits. manufacturer: maker's code, 11 bits.
        ecu_instance, function_instance: which of several like units. function: what it does, 8 bits.
        reserved: one bit, zero. vehicle_system, vehicle_system_instance: which vehicle of the combination.
        industry_group: 0 global, 1 on-highway, 2 agriculture, 3 construction, 4 marine, 5 industrial.
        arbitrary_address_capable: 1 when the device can move to another address.

    Raises:
        DataError: a field that does not fit its width.

    """

    identity: int = 0
    manufacturer: int = 0
    ecu_instance: int = 0
    function_instance: int = 0
    function: int = 0
    reserved: int = 0
    vehicle_system: int = 0
    vehicle_system_instance: int = 0
    industry_group: int = 0
    arbitrary_address_capable: int = 0

    def __post_init__(self) -> None:
        for field in fields(self):
            number, width = getattr(self, field.name), _WIDTHS[field.name]
            if not 0 <= number < 1 << width:
                raise DataError(f"NAME field {field.name} is {number}, more than its {width} bits hold.")

    @classmethod
    def from_value(cls, value: int) -> Name:
        """Take a 64-bit number apart.

        Raises:
            DataError: more than 64 bits.

        """
        if not 0 <= value < 1 << 64:
            raise DataError(f"{value:#x} is not a 64-bit NAME.")
        numbers = {}
        for field, width in _WIDTHS.items():
            numbers[field] = value & (1 << width) - 1
            value >>= width
        return cls(**numbers)

    @classmethod
    def from_bytes(cls, data: bytes) -> Name:
        """Read the eight bytes of an address claim.

        Raises:
            DataError: not eight bytes.

        """
        if len(data) != 8:
            raise DataError(f"A NAME has 8 bytes, this claim has {len(data)}.")
        return cls.from_value(int.from_bytes(data, "little"))

    @property
    def value(self) -> int:
        """The NAME as one 64-bit number; the lower one keeps a contested address."""
        value, shift = 0, 0
        for field, width in _WIDTHS.items():
            value |= getattr(self, field) << shift
            shift += width
        return value

    def to_bytes(self) -> bytes:
        """The eight bytes as sent."""
        return self.value.to_bytes(8, "little")

    def wins_over(self, other: Name) -> bool:
        """Whether this device keeps an address that the other one claims too."""
        return self.value < other.value
