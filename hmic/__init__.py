"""hmic: compile, check and run screens for the small display in a converted vehicle."""

__version__ = "0.1.0"
