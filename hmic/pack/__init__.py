"""The screen pack: one file that holds all a display needs. FORMAT.md is its specification."""
