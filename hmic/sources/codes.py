"""Finding codes of this room."""

CODES: dict[str, str] = {
    "R701": "a log or DBC file cannot be found or opened",
    "R702": "a file is of no kind of log that can be read",
    "R703": "a log holds no frames",
    "R704": "a log breaks off or cannot be read further",
    "R712": "the last line of a log may be cut and was left out",
    "R713": "some lines or frames of a log are damaged and were left out",
    "R716": "the times of a log jump",
    "R719": "a log leaves open how it is to be read",
}
