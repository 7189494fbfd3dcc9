"""`python -m analysis.cli`, where the command is not installed."""

import sys

from . import main

if __name__ == "__main__":
    sys.exit(main())
