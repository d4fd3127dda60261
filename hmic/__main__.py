"""``python -m hmic``."""

import sys

from hmic.cli.main import program

sys.exit(program())
