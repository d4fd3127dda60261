"""Finding codes of the link room."""

CODES: dict[str, str] = {
    "W640": "there is no such serial port",
    "W641": "another program uses the serial port",
    "W642": "no permission to use the serial port",
    "W643": "the serial port cannot be used as asked",
    "W644": "this system gives no pseudo terminal",
    "W650": "no display answers",
    "W651": "the display has stopped taking the pack",
    "W652": "the display refused the pack or could not switch to it",
    "W653": "the display speaks another version of the protocol",
}
