"""Finding codes of the pack room."""

CODES: dict[str, str] = {
    "P501": "the file is not a screen pack, or of another format version",
    "P502": "the pack is damaged: its length or check sum does not agree",
    "P503": "a table of the pack breaks the format",
    "P504": "packed mask or map data break the format",
    "P505": "the drawing holds something a display could not draw",
    "P506": "the pack is larger than the format allows",
}
