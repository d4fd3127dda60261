"""Checksums against the package `crccheck` and the published check values."""

from __future__ import annotations

import csv
from pathlib import Path

import crccheck.crc
import pytest
from hypothesis import given
from hypothesis import strategies as st

from hmic.model.checksums import NAMED, Crc8, checksum
from hmic.model.requests_file import read_messages
from hmic.model.yaml_source import parse_yaml

# Every algorithm of the catalogue that has 8 bits; in and out are reflected together in all of them.
CATALOGUE = [
    each
    for each in vars(crccheck.crc).values()
    if isinstance(each, type) and issubclass(each, crccheck.crc.Crc8Base) and each._width == 8
]


@pytest.mark.parametrize("other", CATALOGUE, ids=lambda each: each.__name__)
@given(data=st.binary(max_size=40))
def test_any_crc_of_8_bits_equals_that_of_crccheck(other: type, data: bytes) -> None:
    assert other._reflect_input == other._reflect_output  # type: ignore[attr-defined]
    method = Crc8(other._poly, other._initvalue, other._reflect_input, other._xor_output)  # type: ignore[attr-defined]
    assert checksum(method, data) == other.calc(data)  # type: ignore[attr-defined]


def test_the_catalogue_is_not_small() -> None:
    assert len(CATALOGUE) > 15


def test_named_ones_have_the_published_check_values() -> None:
    path = Path(__file__).parents[1] / "reference" / "06_crc_check_values.csv"
    rows = list(csv.DictReader(line for line in path.read_text().splitlines() if not line.startswith("#")))
    published = {row["name"]: row for row in rows if row["width"] == "8"}
    assert len(published) >= 4 and published.keys() <= NAMED.keys()
    for name, row in published.items():
        said = Crc8(int(row["poly"], 16), int(row["init"], 16), row["refin"] == "1", int(row["xorout"], 16))
        assert NAMED[name] == said and checksum(said, b"123456789") == int(row["check"], 16)
    # Those that the table does not have, by the package that carries the same catalogue.
    for name, other in (
        ("CRC-8/GSM-A", crccheck.crc.Crc8GsmA),
        ("CRC-8/OPENSAFETY", crccheck.crc.Crc8Opensafety),
    ):
        assert checksum(NAMED[name], b"123456789") == other._check_result


@given(st.binary(max_size=40))
def test_sum_and_exclusive_or(data: bytes) -> None:
    assert checksum("sum", data) == sum(data) % 256
    assert checksum("xor", data + bytes([checksum("xor", data)])) == 0


def test_a_crc_is_told_by_its_parts() -> None:
    text = """messages:
  A: {checksum: C, crc: {polynomial: 0x9B, start: 0xff, reflected: true, final: 0x01}}
  B: {checksum: C, crc: {polynomial: 0x9B}}
  C: {checksum: C, method: CRC-8/GSM-A}
  D: {checksum: C}
  E: {checksum: C, method: xor, crc: {polynomial: 0x9B}}
"""
    node, _ = parse_yaml(text, "signals.yaml")
    assert node is not None
    findings: list = []
    read = read_messages(node.get("messages"), findings)
    assert [read[name].method for name in "ABCD"] == [
        Crc8(0x9B, 0xFF, True, 0x01),
        Crc8(0x9B),
        Crc8(0x1D),
        Crc8(0x1D, 0xFF, False, 0xFF),
    ]
    assert [finding.code for finding in findings] == ["M285"]
