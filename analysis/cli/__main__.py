"""`python -m analysis.cli`, where the command is not installed."""

import sys

from . import main

sys.exit(main())
