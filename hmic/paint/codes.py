"""Finding codes of this room."""

CODES: dict[str, str] = {
    "A390": "a font file is missing",
    "A391": "a font file cannot be read",
    "A392": "a font has no glyph for a character",
    "A393": "a font cannot be drawn at this height",
    "A394": "a character that cannot be set by itself, from left to right",
}
