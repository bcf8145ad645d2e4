"""The page: nothing wider than the terminal, no colour that says more than the words, no text that steers it."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.diag.cells import width
from interlock.report.page import Ink, Page, Piece, fitted

TEXTS = st.text(alphabet=st.characters(exclude_categories=["Cs"]), max_size=120)


def filled(page: Page, text: str) -> str:
    page.heading(text)
    page.paragraph(text, indent=2, hang=6, ink=Ink.FAILS)
    page.labelled(text, text, 11, 2)
    page.labelled("label", text, 11, 2)
    page.row((Piece("R1"), Piece(text, Ink.HOLDS), Piece(text)), (4, 20, 30))
    return page.text()


@given(TEXTS)
def test_no_line_is_wider_than_the_page(text: str) -> None:
    assert max(map(width, filled(Page(), text).split("\n"))) <= 80


@given(TEXTS)
def test_without_its_escapes_a_page_in_colour_is_the_page_without_colour(text: str) -> None:
    painted = filled(Page(colour=True), text)
    assert re.sub(r"\x1b\[[0-9;]*m", "", painted) == filled(Page(), text)


@given(TEXTS)
def test_no_character_of_a_text_steers_the_terminal(text: str) -> None:
    assert not re.search(r"[\x00-\x09\x0b-\x1f\x7f-\x9f\u202a-\u202e\u2066-\u2069]", filled(Page(), text))


def test_a_long_label_stands_on_a_line_of_its_own() -> None:
    page = Page()
    page.labelled("a label that is too long", "text", 8)
    assert page.text() == "a label that is too long\n        text\n"


def test_columns_stay_in_place_beside_wide_letters() -> None:
    page = Page()
    page.row((Piece("軌道"), Piece("x")), (6, 2))
    page.row((Piece("ab"), Piece("x")), (6, 2))
    assert page.text() == "  軌道    x\n  ab      x\n"


def test_there_is_never_more_than_one_empty_line_and_none_at_the_top() -> None:
    page = Page()
    page.gap()
    page.paragraph("a")
    page.gap()
    page.gap()
    page.heading("b")
    assert page.text() == "a\n\nb\n"


def test_a_column_is_as_wide_as_its_widest_text_but_not_wider_than_allowed() -> None:
    assert [fitted(["a", "abc"], 9), fitted(["a" * 20], 9), fitted([], 9)] == [3, 9, 0]


@pytest.mark.parametrize("asked", [1, 59])
def test_a_very_narrow_terminal_is_written_to_as_if_it_were_wider(asked: int) -> None:
    page = Page(width=asked)
    page.paragraph("word " * 30)
    assert max(map(len, page.text().split("\n"))) in range(50, 61)
