"""Which test of the bench catches which fault of an adapter: `python tests/bench/mutations.py` writes the table.

Every fault of `linkcheck bench --simulate` is put into an emulated adapter and the whole test is run on it. A test
holds `mutations.md` to what is measured, so a fault nobody catches any more shows as a difference.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from bench.benches import outcome

from linkcheck.bench.simulation import FAULTS
from linkcheck.errors import UsageError

TABLE = Path(__file__).with_name("mutations.md")
HEAD = """\
# What catches what

Faults of an emulated adapter (`linkcheck bench --simulate list`) and the tests that fail on it. Written by
`python tests/bench/mutations.py`, held by `tests/bench/test_mutations.py`.

| Fault | What is wrong | Caught by |
|---|---|---|
"""


def caught_by(fault):
    """Names of the rows that failed; "refused" where nothing was sent at all."""
    try:
        return [row.row for row in outcome(fault).failed]
    except UsageError:
        return ["refused before anything was sent"]


def line(fault, rows):
    """A row of the table."""
    return f"| {fault} | {FAULTS[fault].words} | {', '.join(rows) or 'nothing fails, and nothing is wrong'} |"


if __name__ == "__main__":
    TABLE.write_text(HEAD + "".join(line(fault, caught_by(fault)) + "\n" for fault in FAULTS))
