"""Finding codes of the command line."""

USAGE = frozenset(
    "U920 U921 U930 U931 U934 U935 U936 U938 U939 U941 U942 U943 U944 U945 U946 U960 U980 "  # noqa: SIM905
    "R763 R764 R765 R766 R767 R770".split()
)
"""Those that only tell of a wrong word of the command: exit code 2."""

CODES: dict[str, str] = {
    "U910": "a file that cannot be written",
    "U911": "a file that cannot be read",
    "U912": "a file that is something else and is not replaced",
    "U920": "a screen or theme that the design does not have",
    "U921": "a panel that is none",
    "U930": "two sources of signals at once",
    "U934": "values asked for by OBD without a bus that may be asked on",
    "U935": "a speed for what keeps its own time",
    "U936": "a repetition of nothing",
    "U937": "a moment that a record or log does not reach",
    "U938": "a time that is none",
    "U939": "a survey of nothing",
    "U931": "a line rate that no port has",
    "U940": "a new design over something that is there",
    "U941": "a new design of a panel or recording that cannot be used",
    "U942": "a field that the DBC does not have",
    "U943": "two descriptions that cannot be told apart",
    "U944": "a moment without its recording, or a recording without its moment",
    "U945": "a part of a recording that is none, or too long",
    "U946": "pictures without a place to go",
    "U947": "a port for a page that cannot be used",
    "U950": "no layout file where one was named",
    "U951": "a layout file that is not UTF-8 text",
    "U960": "a code that hmic never gives",
    "U961": "the editor's library is not installed",
    "U969": "a version of a design that cannot be measured",
    "U970": "a report on screens that cannot be laid out",
    "U971": "a design that cannot be held against a recording",
    "U980": "a language that is none",
    "W654": "the display is another panel than the pack is for",
}
