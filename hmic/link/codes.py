"""Finding codes of the link room."""

CODES: dict[str, str] = {
    "W640": "there is no such serial port",
    "W641": "another program uses the serial port",
    "W642": "no permission to use the serial port",
    "W643": "the serial port cannot be used as asked",
    "W644": "this system gives no pseudo terminal",
}
