"""Finding codes of this room: a design held against a recording."""

CODES: dict[str, str] = {
    "S801": "a value that is stale before the next one came",
    "S802": "a range that values of the recording go beyond",
    "S803": "a range that no value of the recording meets",
    "S804": "a state of the recording that has no word",
    "S805": "words that the recording never shows",
    "S806": "a message that never came",
    "S807": "a field that never came, though its message did",
    "S808": "values that never changed",
    "S809": "a value that stands for none, and is not declared so",
    "S810": "a range of which the recording fills next to nothing",
    "S811": "a message that came by two channels of the recording",
    "S812": "a message that came from two senders in the recording",
}
