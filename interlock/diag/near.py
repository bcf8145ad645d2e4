"""The one name that a mistyped word was most likely meant to be, or none.

A wrong guess is worse than no guess where names decide about a live rail: only one name is offered, only if it is very
like the word and clearly more so than any other, and never one that says the opposite or counts another piece of
equipment. The measure is the ratio of Ratcliff and Obershelp (1988) as in `difflib`; names are compared word by word
too, because `rails_earthed` and `rails_energised` are alike as a whole but not in the word that matters.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from difflib import SequenceMatcher

CUTOFF = 0.8
"""How alike whole names must be, from 0 to 1."""

MARGIN = 0.05
"""By how much the best name must be more alike than the second."""

WORD_CUTOFF = 0.75
"""How alike each pair of words inside two names must be."""

SWAPPED = 0.9
"""What two neighbouring letters in the wrong order count as."""

LONGEST_EXTRA = 2
"""How many characters one name may have more than the other."""

_NEGATIONS = ("un", "in", "de", "dis", "non", "not", "no", "mis", "out")

_OPPOSITES = frozenset(
    map(
        frozenset,
        [
            ("ascending", "descending"),
            ("ascent", "descent"),
            ("decrease", "increase"),
            ("decreased", "increased"),
            ("decreases", "increases"),
            ("decreasing", "increasing"),
            ("east", "west"),
            ("maximum", "minimum"),
        ],
    )
)
"""Pairs of opposites that are spelt so alike that the measure would take one for the other."""


def near(word: str, candidates: Iterable[str]) -> str | None:
    """The candidate that `word` was most likely meant to be; None if none is like it or the choice is not clear.

    Cost: one comparison a candidate, about a microsecond each where a glance shows that they differ.
    """
    ranked: list[tuple[float, str]] = []
    matcher = SequenceMatcher(autojunk=False)
    matcher.set_seq2(_plain(word))
    for candidate in sorted(set(candidates)):
        if candidate == word:
            return None
        matcher.set_seq1(_plain(candidate))
        if matcher.real_quick_ratio() >= CUTOFF - MARGIN and matcher.quick_ratio() >= CUTOFF - MARGIN:
            ranked.append((_alike(_plain(word), _plain(candidate)), candidate))
    ranked = [entry for entry in ranked if _may_be_meant(word, entry[1])]
    ranked.sort(key=lambda entry: (-entry[0], entry[1]))
    if not ranked or ranked[0][0] < CUTOFF:
        return None
    alike, best = ranked[0]
    if len(ranked) > 1 and alike - ranked[1][0] < MARGIN and not _only_spelling(word, best, ranked[1][1]):
        return None
    return best


def _alike(one: str, other: str) -> float:
    """How alike two texts are, from 0 to 1; two neighbouring letters swapped are one slip, however short the word."""
    if len(one) == len(other) > 3:
        differ = [i for i, (a, b) in enumerate(zip(one, other, strict=True)) if a != b]
        if (
            len(differ) == 2
            and differ[1] == differ[0] + 1
            and one[differ[0] : differ[1] + 1] == other[differ[0] : differ[1] + 1][::-1]
        ):
            return SWAPPED
    return SequenceMatcher(None, one, other, autojunk=False).ratio()


def _plain(name: str) -> str:
    """The name without what people mix up and nobody means: case, and `_`, `-` or blanks between words."""
    return "".join(_words(name))


def _words(name: str) -> list[str]:
    return [part for part in re.split(r"[\s_-]+", name.lower()) if part]


def _only_spelling(word: str, best: str, second: str) -> bool:
    """Whether `best` is the word but for case and blanks, and the second is not."""
    return _plain(word) == _plain(best) != _plain(second)


def _may_be_meant(word: str, candidate: str) -> bool:
    """Whether a person who wrote `word` may have meant `candidate`: not its opposite, not its neighbour."""
    if _plain(word) == _plain(candidate):
        return True
    if re.findall(r"\d+", word) != re.findall(r"\d+", candidate):
        return False
    if abs(len(_plain(word)) - len(_plain(candidate))) > LONGEST_EXTRA:
        return False
    written, meant = _words(word), _words(candidate)
    if len(written) == len(meant):
        return all(_words_alike(one, other) for one, other in zip(written, meant, strict=True))
    extra = set(written) ^ set(meant)
    return not any(part in _NEGATIONS for part in extra)


def _words_alike(one: str, other: str) -> bool:
    if one == other:
        return True
    if re.fullmatch(r"[ivx]+", one) and re.fullmatch(r"[ivx]+", other):
        return False  # Roman numbers
    if frozenset((one, other)) in _OPPOSITES or _negates(one, other) or _negates(other, one):
        return False
    return _alike(one, other) >= WORD_CUTOFF


def _negates(longer: str, shorter: str) -> bool:
    return any(longer == negation + shorter for negation in _NEGATIONS)
