"""The README's picture of real output: made here, and compared with the README by the tests.

python tests/contracts/readme_examples.py    writes it anew
"""

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
BEGIN, END = "<!-- example -->", "<!-- /example -->"
COMMAND = ["replay", "captures/drops-over-bumps.log"]


def example():
    """The block as it should stand in the README."""
    done = subprocess.run(
        [sys.executable, "-m", "linkcheck", *COMMAND],
        cwd=ROOT,
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "COLUMNS": "80", "PYTHONIOENCODING": "utf-8"},
    )
    return f"{BEGIN}\n```\n$ linkcheck {' '.join(COMMAND)}\n{done.stdout.rstrip()}\n```\n{END}"


def in_readme():
    """The block as it stands in the README."""
    return re.search(f"{BEGIN}.*{END}", README.read_text(), re.DOTALL)[0]


if __name__ == "__main__":
    README.write_text(README.read_text().replace(in_readme(), example()))
