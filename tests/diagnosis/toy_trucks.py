"""A made-up table of predictions: eight faults, a handful of checks, no circuit behind it."""

import numpy as np

from linkcheck.diagnosis.samples import SOUND, Observable, Samples

SHOWS = ("no_power", "silent", "errors", "frames")
OBSERVABLES = (
    Observable("supply", "dc_volts", "supply"),
    Observable("drop", "dc_volts", "supply"),
    Observable("fuse", "ohms", "supply"),
    Observable("pair", "ohms", "can"),
    Observable("high", "dc_volts", "can"),
    Observable("low", "dc_volts", "can"),
    Observable("high_ground", "ohms", "can", lines="can_ground"),
    Observable("low_ground", "ohms", "can", lines="can_ground"),
    Observable("end", "ohms", "can"),
    Observable("listen", "category", "listen", categories=SHOWS, mistaken=0.05),
)
FAULTS = ("flat", "fuse_open", "joint", "one_missing", "both_missing", "third", "short", "short_pair")
TRUCKS = 200


def truck_table(seed=1, trucks=TRUCKS):
    """Predictions of the sound truck and of the eight faults: the same trucks under each."""
    rng = np.random.default_rng(seed)
    battery, ohms = rng.normal(12.5, 0.15, trucks), rng.normal(60.0, 0.8, trucks)
    high, low = rng.normal(2.62, 0.06, trucks), rng.normal(2.38, 0.06, trucks)
    leak = np.exp(rng.uniform(np.log(2e4), np.log(2e6), trucks))
    little = rng.uniform(0.0, 0.2, trucks)
    some = np.exp(rng.uniform(np.log(0.3), np.log(20.0), trucks))

    sag = 0.6 * some / (0.6 + some / 20.0)

    def truck(**changed):
        sound = {
            "supply": battery, "drop": little / 5.0, "fuse": little, "pair": ohms, "high": high, "low": low,
            "high_ground": leak, "low_ground": leak * 1.01, "end": 2.0 * ohms, "listen": np.full(trucks, 3),
        }  # fmt: skip
        return np.stack([np.broadcast_to(changed.get(each.id, sound[each.id]), trucks) for each in OBSERVABLES])

    rows = {
        SOUND: truck(),
        ("flat",): truck(supply=battery * rng.uniform(0.5, 0.9, trucks), listen=np.full(trucks, 0)),
        ("fuse_open",): truck(supply=0.0, drop=battery, fuse=np.inf, listen=np.full(trucks, 0)),
        ("joint",): truck(supply=battery - sag, drop=0.5 * some, listen=rng.integers(0, 4, trucks)),
        ("one_missing",): truck(pair=2.0 * ohms),
        ("both_missing",): truck(pair=leak / 100.0, end=leak / 100.0, listen=np.full(trucks, 2)),
        ("third",): truck(pair=ohms * 2.0 / 3.0, end=120.0),
        ("short",): truck(high=0.02, low=0.1, high_ground=some, low_ground=some + ohms, listen=np.full(trucks, 1)),
        ("short_pair",): truck(pair=some / 10.0, high=2.5, low=2.5, end=some / 10.0, listen=np.full(trucks, 1)),
    }  # fmt: skip
    return Samples(list(rows), OBSERVABLES, np.stack(list(rows.values())).astype(np.float32))


def answer(values, observable, rng, slip=0.0):
    """What a technician reads of a true value: the meter errs by half a percent, the hand slips now and then."""
    if observable.quantity == "category":
        true = int(values) if rng.random() >= slip else int(rng.integers(len(SHOWS)))
        return SHOWS[true], 0.0
    if rng.random() < slip:
        values = 0.0 if observable.quantity == "dc_volts" else np.inf
    if np.isinf(values):
        return float("inf"), 0.0
    spread = 0.005 * abs(values) + (0.005 if observable.quantity == "dc_volts" else 0.1)
    return float(values + rng.normal(0.0, spread)), spread
