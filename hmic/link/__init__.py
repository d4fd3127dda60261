"""Links: serial ports, pseudo terminals, and a line in memory for tests. See ``shape.Link``."""
