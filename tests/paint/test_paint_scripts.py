"""Letters that cannot be set one by one are told, and no others are."""

import unicodedata

import pytest

from hmic.paint.scripts import unset


@pytest.mark.parametrize(
    "text",
    [
        "Battery 80 % – “Größe” ‚Łódź‘ Ærø façade Ñandú İstanbul ț ş ő",
        "Αθήνα Ώρα, Београд Ђ, Київ їжак, Հայաստան, საქართველო",
        "電池 でんち デンチ 배터리 ⚡ µΩ°²½ → ▲ …",
    ],
)
def test_letters_that_stand_by_themselves(text):
    assert [char for char in unicodedata.normalize("NFC", text) if unset(char)] == []


@pytest.mark.parametrize(
    ("script", "text"),
    [
        ("Hebrew", "סוללה"),
        ("Arabic", "بطارية"),
        ("Syriac", "ܒܛܪܝܐ"),
        ("Thaana", "ބެޓަރީ"),
        ("Nko", "ߓߊ"),
        ("Devanagari", "बैटरी"),
        ("Bengali", "ব্যাটারি"),
        ("Tamil", "பேட்டரி"),
        ("Sinhala", "බැටරිය"),
        ("Tibetan", "གློག"),
        ("Myanmar", "ဘက်ထရီ"),
        ("Khmer", "ថ្ម"),
        ("Mongolian", "ᠪᠠ"),
    ],
)
def test_letters_that_do_not(script, text):
    found = unset(text[0])
    assert found is not None and (found.code, found.severity.value) == ("A394", "error")
    assert script in found.message and found.remedy
    assert all(unset(char) for char in text if char.isalpha())


def test_marks_without_a_letter_of_their_own():
    found = unset("\u0301")
    assert found is not None and "the letter before it" in found.message
    assert unset("\u200f") is not None and unset("\u202e") is not None
