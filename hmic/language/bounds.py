"""How large the parts of a design may be: each far beyond what a design needs, and little enough that
every answer comes at once and in bounded memory. DESIGN.md has the table."""

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
