"""Finding codes of this room."""

CODES: dict[str, str] = {
    "R701": "a log or DBC file cannot be found or opened",
    "R702": "the suffix of a log is of no kind that can be read",
    "R703": "a log holds no frames",
    "R704": "a log breaks off or cannot be read further",
    "R705": "the DBC cannot be understood",
    "R706": "the DBC lacks a message that a signal names",
    "R707": "the DBC message lacks a signal that a signal names",
    "R708": "the design names no DBC, but a signal needs one",
    "R709": "the CAN channel cannot be opened",
    "R710": "the CAN channel failed while running",
    "R711": "none of the design's messages was in the log",
    "R712": "the last line of a log may be cut and was left out",
    "R713": "some frames of a log are damaged and were left out",
    "R714": "a message whose counter stands still or whose checksum is wrong",
    "R715": "an output whose message cannot be sent as it stands",
    "R721": "the display holds another pack",
    "R722": "the display is another panel",
    "R723": "the display speaks another version of the protocol",
    "R731": "the serial port vanished",
}
