"""Every kind of mistake and finding is registered once, with a meaning and two examples."""

from __future__ import annotations

import re

import pytest

from interlock.diag.diagnostic import Severity
from interlock.diag.kind import Kind
from interlock.diag.registry import all_kinds, kind, merged

ONE = Kind("one", Severity.ERROR, "The first.", "a: 1", "a: 2")
TWO = Kind("two", Severity.NOTE, "The second.", "b: 1", "b: 2")


def test_tables_are_merged_in_alphabetical_order() -> None:
    assert list(merged([[TWO], [ONE]])) == ["one", "two"]


def test_a_kind_that_is_registered_twice_is_refused() -> None:
    with pytest.raises(ValueError, match="kind `one` is registered twice"):
        merged([[ONE], [TWO, ONE]])


def test_an_unknown_kind_is_refused_by_name() -> None:
    with pytest.raises(KeyError, match="no-such-kind"):
        kind("no-such-kind")


def test_every_kind_can_be_asked_for_by_its_name() -> None:
    kinds = all_kinds()
    assert kinds
    assert all(kind(name) is entry and entry.name == name for name, entry in kinds.items())


def test_every_kind_has_a_plain_name_a_meaning_and_two_different_examples() -> None:
    for entry in all_kinds().values():
        assert re.fullmatch(r"[a-z]+(-[a-z]+)*", entry.name), entry.name
        assert entry.meaning.endswith((".", "`")), entry.name
        assert entry.bad.strip(), entry.name
        assert entry.good.strip(), entry.name
        assert entry.bad != entry.good, entry.name
