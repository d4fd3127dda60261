"""How large the parts of a design may be: each far beyond what a design needs, and little enough that
every answer comes at once and in bounded memory. DESIGN.md has the table."""

# Layouts.
MOST_LINES = 20_000
"""Lines of all layout files of a design."""
MOST_LETTERS = 1_000_000
"""Characters of all layout files of a design."""
MOST_MISTAKES = 200
"""Mistakes in a layout file, after which it is not read on."""

# What a layout stands for.
MOST_OF_EACH = 256
"""Rounds of one ``each``."""
MOST_HELD = 1000
"""Areas, rows of plans and pieces of a screen, with every part and ``each`` written out."""
MOST_FIGURES = 15
"""Figures of a format: what a number of the computer can tell apart."""
MOST_PICTURE = 4096
"""Pixels of a picture's side, as of a panel's."""
MOST_PIXELS = 50_000_000
"""Pixels of all pictures of a design, each counted wherever it stands."""

# YAML files.
MOST_YAML = 1_000_000
"""Characters of a file."""
MOST_VALUES = 100_000
"""Values in a file, repeated ones counted as often as they stand."""
DEEPEST_VALUE = 20
"""Levels of values in each other."""

# Descriptions of messages.
MOST_MESSAGES = 10_000
MOST_BYTES = 4095
"""Bytes of a message: the most that one transfer of segments carries (ISO 15765-2, 12 bits of length)."""
MOST_FIELDS = 2000
"""Fields of a message."""
MOST_PAGED = 100_000
"""Fields of a file, each counted on every page of a multiplexed message that it stands on."""
MOST_SENDERS = 10_000
"""Messages with further senders (``BO_TX_BU_``), each counted for every sender."""
MOST_NESTED = 20
"""Multiplexed fields that select each other's pages, one within the other."""
