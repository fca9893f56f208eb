"""J1708, the older serial link on the connector: bytes in, values out. So far its checksum."""

from linkcheck.j1708.checksum import checksum, is_sound

__all__ = ["checksum", "is_sound"]
