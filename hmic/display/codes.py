"""Finding codes of the display room."""

CODES: dict[str, str] = {
    "W660": "the store file cannot be used",
    "W661": "another display uses the store file",
    "W662": "the store file is not a display's store",
    "W663": "the display cannot hold or draw the pack",
    "W664": "a line of touches that cannot be followed",
    "W665": "an empty display whose panel is not told",
}
