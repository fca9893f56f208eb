"""Nothing clever: the folder of this file on the path, so that test helpers can be imported by name."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
