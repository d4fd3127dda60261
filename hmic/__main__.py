"""``python -m hmic``."""

import sys

from hmic.cli.main import main

sys.exit(main())
