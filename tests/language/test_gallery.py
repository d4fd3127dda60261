"""GALLERY.md is what its command writes, and shows every phrase of every widget."""

from __future__ import annotations

import pytest

from hmic.arrange.placing import PLACED
from hmic.arrange.widgets import WIDGETS
from hmic.language.syntax import PhraseKind
from hmic.language.vocabulary import KINDS, PHRASE_FORMS
from tests.tools import golden
from tests.tools.gallery import FOLDER, PAGE, Form, forms, page, painted, said


@pytest.mark.parametrize("form", forms(), ids=lambda form: f"{form.kind}-{form.number}")
def test_picture_of_a_form(form: Form) -> None:
    golden.compare(painted(form), form.file)


def test_the_page_is_what_its_command_writes() -> None:
    assert PAGE.read_text(encoding="utf-8") == page(), "run python -m tests.tools.gallery"
    assert {path.name for path in FOLDER.glob("*.png")} == {form.file.name for form in forms()}


@pytest.mark.parametrize("kind", KINDS)
def test_every_phrase_of_a_widget_is_shown(kind: str) -> None:
    shown = {phrase.kind for form in forms() for one, phrase in said(form) if one == kind}
    everywhere = {phrase.kind for form in forms() for _, phrase in said(form)}
    lacking = set(WIDGETS[kind].PHRASES) - shown
    # What places a thing freely reads alike for all of them.
    assert lacking - PLACED - {PhraseKind.BEHIND} == set()
    assert PLACED | {PhraseKind.BEHIND} <= everywhere


def test_every_word_that_opens_a_phrase_is_shown() -> None:
    words = {word for form in forms() for word in form.text.replace(",", " ").split()}
    assert [word for word in PHRASE_FORMS if word not in words] == []
