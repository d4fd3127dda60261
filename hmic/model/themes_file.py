"""themes.yaml: values for the colour roles."""

from __future__ import annotations

import re
from collections.abc import Iterable

from hmic.diagnostics import Finding, Span, closest, error
from hmic.model.design import Colour, Ramp, ThemeDefinition
from hmic.model.yaml_source import Node

REQUIRED_ROLES = (
    "ground",
    "surface",
    "line",
    "ink",
    "quiet",
    "accent",
    "good",
    "notice",
    "caution",
    "danger",
    "stale",
)

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
# Stands in for a colour whose error is reported, so that the rest can still be checked.
_NONE: Colour = (255, 0, 255)


def read_themes(node: Node, findings: list[Finding]) -> tuple[ThemeDefinition, ...]:
    """The themes in the order written. All have the same roles and ramps: what one lacks is a
    finding and is filled in."""
    group = node.get("themes")
    entries = list(group.each()) if group is not None else []
    read = [(_theme(entry.key, entry.value, entry.span), entry.value) for entry in entries]
    read = [(theme, body) for theme, body in read if body.entries is not None]
    roles = list(dict.fromkeys([*REQUIRED_ROLES, *(role for theme, _ in read for role in theme.roles)]))
    ramps = list(dict.fromkeys(ramp for theme, _ in read for ramp in theme.ramps))
    themes = [theme for theme, _ in read]
    return tuple(_filled(theme, body, roles, ramps, themes, findings=findings) for theme, body in read)


def _theme(name: str, node: Node, span: Span) -> ThemeDefinition:
    roles, ramps = node.get("roles"), node.get("ramps")
    brightness, luminance = node.get("brightness"), node.get("luminance")
    bright = brightness.scalar if brightness is not None else None
    white = luminance.scalar if luminance is not None else None
    return ThemeDefinition(
        name,
        {entry.key: _colour(entry.value) for entry in (roles.each() if roles is not None else ())},
        {
            entry.key: Ramp(entry.key, tuple(_colour(stop) for stop in entry.value.items or ()), entry.span)
            for entry in (ramps.each() if ramps is not None else ())
        },
        float(white) if isinstance(white, int | float) and white > 0 else 1.0,
        bright if isinstance(bright, int) and 0 <= bright <= 100 else 100,
        span,
    )


def _colour(node: Node) -> Colour:
    text = node.scalar
    if not isinstance(text, str) or _COLOUR.fullmatch(text) is None:
        return _NONE
    return (int(text[1:3], 16), int(text[3:5], 16), int(text[5:7], 16))


def _filled(
    theme: ThemeDefinition,
    node: Node,
    roles: Iterable[str],
    ramps: Iterable[str],
    themes: list[ThemeDefinition],
    *,
    findings: list[Finding],
) -> ThemeDefinition:
    colours = dict(theme.roles)
    for role in roles:
        if role in colours:
            continue
        given = next((other for other in themes if role in other.roles), None)
        colours[role] = given.roles[role] if given is not None else _NONE
        # A required role that is missing is the schema's finding.
        if role not in REQUIRED_ROLES and given is not None:
            message = f"theme '{theme.name}' has no colour for '{role}', which theme '{given.name}' has"
            findings.append(
                error("M250", message, theme.span, f'add `{role}: "{_hexadecimal(colours[role])}"`')
            )
    told = _other_names(theme, themes, findings)
    scales = {name: ramp for name, ramp in theme.ramps.items() if len(ramp.stops) > 1}
    for name in ramps:
        if name in scales:
            continue
        whole = [t for t in themes if name in t.ramps and len(t.ramps[name].stops) > 1]
        stops = whole[0].ramps[name].stops if whole else (_NONE, _NONE)
        scales[name] = Ramp(name, stops, theme.span)
        if name not in theme.ramps and whole and name not in told:
            message = f"theme '{theme.name}' has no ramp '{name}', which theme '{whole[0].name}' has"
            written = ", ".join(f'"{_hexadecimal(stop)}"' for stop in stops)
            findings.append(error("M250", message, theme.span, f"add `{name}: [{written}]`"))
    return ThemeDefinition(theme.name, colours, scales, theme.luminance, theme.brightness, theme.span)


def _other_names(theme: ThemeDefinition, themes: list[ThemeDefinition], findings: list[Finding]) -> set[str]:
    """The ramps that this theme lacks since it calls them in a slightly other way than another theme does:
    told once, in the later of the two."""
    names = set()
    for other in themes:
        mine, its = (set(a.ramps) - set(b.ramps) for a, b in ((theme, other), (other, theme)))
        for lacking in sorted(its):
            near = closest(lacking, mine)
            if near is None:
                continue
            names.add(lacking)
            if themes.index(theme) > themes.index(other):
                message = f"theme '{theme.name}' has a ramp '{near}', theme '{other.name}' a ramp '{lacking}'"
                findings.append(error("M250", message, theme.ramps[near].span, "call both the same"))
    return names


def _hexadecimal(colour: Colour) -> str:
    return "#" + "".join(f"{part:02x}" for part in colour)
