"""What users say about a bus on the command line: its bit rate, and who should talk on it."""

from __future__ import annotations

import re

from linkcheck.errors import UsageError

__all__ = ["bit_rate", "expected"]

_RATE = re.compile(r"(\d+(?:\.\d+)?)\s*([kKmM]?)(?:bit/?s?)?")


def bit_rate(text: str | None, option: str) -> int | None:
    """A bit rate as a user writes it, in bit/s; None where nothing was written.

    Raises:
        UsageError: not a bit rate.

    """
    if text is None:
        return None
    match = _RATE.fullmatch(text.strip())
    factor = {"": 1, "k": 1_000, "m": 1_000_000}
    rate = round(float(match[1]) * factor[match[2].lower()]) if match else 0
    if not 1_000 <= rate <= 20_000_000:
        raise UsageError(f"{text!r} is no bit rate.", where=option, todo="Write it as 250k, 500000 or 1M.")
    return rate


def expected(text: str, network: int) -> tuple[dict[int, str], int | None]:
    """Addresses with names, and the system voltage where a vehicle file tells it.

    Raises:
        UsageError, DataError: neither addresses nor a vehicle file.

    """
    if re.fullmatch(r"[0-9a-fA-FxX]+(,\s*[0-9a-fA-FxX]+)*,?", text.strip()) and not text.endswith(".toml"):
        return {_address(word): "" for word in text.replace(" ", "").strip(",").split(",")}, None
    from linkcheck.pinout.load import find_pinout, load_vehicle  # noqa: PLC0415

    vehicle = load_vehicle(find_pinout(text))
    named = {module.address: module.name for module in vehicle.modules if module.network == network}
    if not named:
        raise UsageError(f"{text} has no modules on network {network}.", where="--network")
    return named, round(vehicle.system_volts)


def _address(word: str) -> int:
    try:
        # Letters can only be hexadecimal; digits alone are decimal, unless 0x says otherwise.
        value = int(word, 10) if word.isdigit() else int(word, 16)
    except ValueError:
        value = -1
    if not 0 <= value <= 253:
        raise UsageError(
            f"{word!r} is no source address.", where="--expect", todo="Write 0 to 253, or 0x00 to 0xFD, with commas."
        )
    return value
