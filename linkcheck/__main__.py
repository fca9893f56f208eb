"""`python -m linkcheck` is the same as `linkcheck`."""

import sys

from linkcheck.cli.main import main

sys.exit(main())
