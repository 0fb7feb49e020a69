"""``python -m benchtimer``."""

import sys

from benchtimer.cli import main

sys.exit(main())
