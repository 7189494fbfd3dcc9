"""`python -m evenfall.cli`, where the command is not installed."""

import sys

from .command import main

if __name__ == "__main__":
    sys.exit(main())
