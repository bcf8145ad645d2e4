"""Diagnostics as people see them: exact text, narrow terminals, wide letters, hostile files."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from interlock.diag.cells import harmless, shortened, width, wrapped
from interlock.diag.diagnostic import Diagnostic, Mark, Severity
from interlock.diag.place import Sources, Span
from interlock.diag.render import render

FILE = "specs/quay.yaml"


def one_line(text: str, column: int, length: int, words: str = "", *, line: int = 1) -> tuple[Diagnostic, Sources]:
    """A diagnostic at `length` characters of a file whose only line that is not empty is `text`."""
    span = Span(FILE, line, column, line, column + length)
    sources = Sources({FILE: "\n" * (line - 1) + text + "\n"})
    return Diagnostic("wrong", Severity.ERROR, "this is wrong", Mark(span, words)), sources


def shown(text: str, column: int, length: int, words: str = "", *, terminal: int = 80) -> list[str]:
    diagnostic, sources = one_line(text, column, length, words)
    return render([diagnostic], sources, width=terminal).splitlines()


def test_a_mistake_is_told_with_its_place_its_text_and_its_cure() -> None:
    text = "          needs: shoe_proved and contact_proved"
    diagnostic = Diagnostic(
        "unknown-name",
        Severity.ERROR,
        "move `energise` needs `shoe_proved`, which nothing defines",
        Mark(Span(FILE, 141, 18, 141, 29), "not defined"),
        (),
        ("`shoes_proved` is defined at specs/quay.yaml:63:3; did you mean it?",),
    )
    assert render([diagnostic], Sources({FILE: "\n" * 140 + text})) == (
        "error[unknown-name]: move `energise` needs `shoe_proved`, which nothing defines\n"
        "  specs/quay.yaml:141:18\n"
        "    141 |           needs: shoe_proved and contact_proved\n"
        "        |                  ^^^^^^^^^^^ not defined\n"
        "  to cure: `shoes_proved` is defined at specs/quay.yaml:63:3; did you mean it?\n"
    )


def test_further_marks_share_one_gutter_and_notes_are_called_notes() -> None:
    sources = Sources({FILE: "a: 1\n" + "\n" * 98 + "a: 2\n"})
    diagnostic = Diagnostic(
        "written-twice",
        Severity.NOTE,
        "`a` is written twice",
        Mark(Span(FILE, 100, 1, 100, 2), "again"),
        (Mark(Span(FILE, 1, 1, 1, 2), "first"),),
        ("take one of them away", "or give it another name"),
    )
    assert render([diagnostic], sources) == (
        "note[written-twice]: `a` is written twice\n"
        "  specs/quay.yaml:100:1\n"
        "    100 | a: 2\n"
        "        | ^ again\n"
        "  specs/quay.yaml:1:1\n"
        "      1 | a: 1\n"
        "        | ^ first\n"
        "  to cure: take one of them away\n"
        "  to cure: or give it another name\n"
    )


def test_an_empty_line_stands_between_two_mistakes_and_nothing_is_said_of_none() -> None:
    diagnostic = Diagnostic("unreadable", Severity.ERROR, "the file cannot be read", None)
    assert render([], Sources({})) == ""
    assert render([diagnostic, diagnostic], Sources({})) == (
        "error[unreadable]: the file cannot be read\n\nerror[unreadable]: the file cannot be read\n"
    )


def test_a_place_in_a_text_that_is_not_at_hand_is_still_told() -> None:
    diagnostic = Diagnostic("wrong", Severity.ERROR, "wrong", Mark(Span("a.yaml", 3, 1, 3, 2), "here"))
    assert render([diagnostic], Sources({})).splitlines()[1:] == ["  a.yaml:3:1", "    here"]
    assert render([diagnostic], Sources({"a.yaml": "one line"})).splitlines()[1:] == ["  a.yaml:3:1", "    here"]


def test_a_long_headline_and_a_long_cure_are_wrapped_between_words_and_names_are_kept_whole() -> None:
    diagnostic = Diagnostic(
        "unknown-name",
        Severity.ERROR,
        "permissive `shoes_proved` of move `energise` of `ground` reads"
        " `front shoe contact_seen`, which nothing defines",
        None,
        (),
        ("write `all shoes contact_seen` if both shoes are meant, or name the instance: `front shoe contact_proved`",),
    )
    assert render([diagnostic], Sources({}), width=70).splitlines() == [
        "error[unknown-name]: permissive `shoes_proved` of move `energise` of",
        "    `ground` reads `front shoe contact_seen`, which nothing defines",
        "  to cure: write `all shoes contact_seen` if both shoes are meant, or",
        "           name the instance: `front shoe contact_proved`",
    ]


def test_wide_letters_before_the_mark_move_the_carets_by_two_cells_each() -> None:
    assert shown("名前: wrong", 5, 5)[2:] == ["    1 | 名前: wrong", "      |       ^^^^^"]
    assert shown("a: 名前", 4, 2, "two letters")[3] == "      |    ^^^^ two letters"


def test_combining_marks_take_no_cell() -> None:
    assert shown("e\u0301e\u0301: wrong", 7, 5)[3] == "      |     ^^^^^"


def test_tabs_are_shown_as_blanks_up_to_the_next_stop() -> None:
    assert shown("\ta\tb: wrong", 7, 5)[2:] == ["    1 |     a   b: wrong", "      |            ^^^^^"]


def test_a_mark_without_length_or_beyond_the_line_is_still_one_caret() -> None:
    assert shown("when:", 6, 0, "nothing here")[3] == "      |      ^ nothing here"
    assert shown("when:", 60, 5, "nothing here")[3] == "      |      ^ nothing here"
    assert shown("", 1, 0)[2:] == ["    1 |", "      | ^"]


def test_a_mark_over_several_lines_is_drawn_to_the_end_of_its_first() -> None:
    span = Span(FILE, 1, 4, 3, 2)
    diagnostic = Diagnostic("wrong", Severity.ERROR, "wrong", Mark(span, "from here"))
    assert render([diagnostic], Sources({FILE: "a: {b,\n c,\n}"})).splitlines()[2:] == [
        "    1 | a: {b,",
        "      |    ^^^ from here",
    ]


@pytest.mark.parametrize("column", [1, 30, 200, 395])
def test_a_long_line_is_cut_around_the_mark(column: int) -> None:
    text = "".join(f"{i:04} " for i in range(0, 400, 5))
    line, carets = shown(text, column, 4, "here")[2:4]
    under = line[carets.index("^") : carets.index("^") + 4]
    assert under == text[column - 1 : column + 3]
    assert width(line) <= 80
    assert ("…" in line[:12], line.endswith("…")) == (column >= 30, column < 395)


def test_words_that_do_not_fit_beside_the_carets_stand_below_them() -> None:
    text = "x" * 60 + " wrong"
    assert shown(text, 62, 5, "no such thing is known here")[2:] == [
        f"    1 | {text}",
        "      | " + " " * 61 + "^^^^^",
        "      | " + " " * 45 + "no such thing is known here",
    ]


def test_a_long_mark_is_cut_with_its_line() -> None:
    lines = shown("when: " + "shoes_proved and " * 20, 7, 300, "too long")
    assert all(width(line) <= 80 for line in lines)
    assert lines[2].startswith("    1 | when: shoes")
    assert lines[2].endswith("…")
    assert lines[3].index("^") == lines[2].index("shoes")
    assert lines[4].strip() == "|       too long"


@pytest.mark.parametrize("character", ["\x1b", "\x07", "\x9b", "\u202e", "\u200b", "\ufeff", "\u2028", "\r", "\x00"])
def test_no_character_of_a_file_steers_the_terminal(character: str) -> None:
    hostile = f"a{character}[2Jb"
    diagnostic = Diagnostic(
        hostile,
        Severity.ERROR,
        f"`{hostile}` is wrong",
        Mark(Span(f"{character}.yaml", 1, 6, 1, 7), hostile),
        (),
        (hostile,),
    )
    text = render([diagnostic], Sources({f"{character}.yaml": f"{hostile}: 1"}))
    assert character not in text
    number = f"<U+{ord(character):04X}>"
    assert text.count(number) == 6
    source, carets = text.splitlines()[2:4]
    assert source[carets.index("^")] == "b"


def test_endless_words_are_cut() -> None:
    diagnostic = Diagnostic("wrong", Severity.ERROR, "x" * 100_000, None, (), ("y " * 100_000,))
    text = render([diagnostic], Sources({}))
    assert len(text) < 2_500
    assert text.count("…") == 2


def test_colour_is_only_added() -> None:
    diagnostic, sources = one_line("wrong: 1", 1, 5, "here")
    coloured = render([diagnostic], sources, colour=True)
    assert coloured != render([diagnostic], sources)
    assert re.sub(r"\x1b\[[0-9;]*m", "", coloured) == render([diagnostic], sources)


LETTERS = st.characters(exclude_characters="\n") | st.sampled_from("名e\u0301\t\x1b ab")
LINES = st.text(LETTERS, max_size=30) | st.text(LETTERS, min_size=60, max_size=300)


@given(LINES, st.integers(1, 310), st.integers(0, 310), st.text(max_size=100), st.integers(40, 120), st.integers(0, 1))
def test_whatever_a_line_holds_it_fits_the_terminal_and_the_carets_stand_under_the_text(
    line: str, column: int, length: int, words: str, terminal: int, more_lines: int
) -> None:
    span = Span(FILE, 1, column, 1 + more_lines, column + length)
    diagnostic = Diagnostic("wrong", Severity.ERROR, words or "wrong", Mark(span, words), (), (words,))
    sources = Sources({FILE: line})
    text = render([diagnostic], sources, width=terminal)
    assert re.sub(r"\x1b\[[0-9;]*m", "", render([diagnostic], sources, width=terminal, colour=True)) == text
    assert not any(unicodedata.category(c) in ("Cc", "Cf", "Cs", "Zl", "Zp") for c in text.replace("\n", ""))
    lines = text.splitlines()
    assert all(width(shown_line) <= terminal for shown_line in lines)
    place = lines.index(f"  {span}")
    source, carets = lines[place + 1 : place + 3]
    assert "^" in carets
    kept = line.rstrip("\r").rstrip()
    if not unicodedata.combining((kept[column - 1 : column] or " ")[0]) and "\t" not in kept:
        at = width(carets[: carets.index("^")])
        expected = harmless(kept[column - 1 : column]) or ""
        cells = "".join(c * width(c) for c in source if width(c))
        first = "".join(c * width(c) for c in expected if width(c))
        assert cells[at : at + len(first)] == first


@given(st.text(max_size=200), st.integers(1, 60), st.integers(1, 60))
def test_wrapping_keeps_every_word_and_every_line_short_enough(text: str, first: int, rest: int) -> None:
    text = harmless(text)
    lines = wrapped(text, first, rest)
    assert "".join("".join(lines).split()) == "".join(text.split())
    for i, line in enumerate(lines):
        assert width(line) <= (rest if i or not line else first) or any(width(c) > 1 for c in line)
    assert width(shortened(text, rest)) <= rest
