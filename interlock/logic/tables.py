"""Parse tables of the grammar: made by lark from `grammar.lark`, kept in `tables.json`, driven by a few lines here.

Reading the kept tables takes about two milliseconds; importing lark and reading the grammar takes a hundred, which
every run of every command would pay. `python -m interlock.logic.tables` writes the file anew after a change of the
grammar; one test asserts that the file was made of this grammar, another that lark itself parses alike.

In: a start symbol and text. Out: the reductions, bottom-up, handed to a builder. LALR(1) as in Aho, Lam, Sethi and
Ullman, Compilers, section 4.7; the lexer offers a state only the tokens that it accepts.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cache
from hashlib import sha256
from pathlib import Path
from typing import Any, NamedTuple

STARTS = ("formula", "window")
"""The start symbols of the grammar."""

_HERE = Path(__file__).parent  # not importlib.resources, whose import takes longer than the rest of the parsing


class Token(NamedTuple):
    """A word or sign: its sort, its text, and where it stands in the text that is parsed."""

    type: str
    text: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Rule:
    """A rule of the grammar.

    `calls`: the method of the builder, "" to hand on the only child. `kept`: which symbols have a meaning. `spliced`: a
    rule made by lark for a repetition; its children go to the rule that holds it.
    """

    name: str
    length: int
    calls: str
    kept: tuple[int, ...]
    spliced: bool


@dataclass(frozen=True, slots=True)
class Tables:
    """The tables.

    `actions`: by state, what to do on a token or after a reduction: shift to that state, or reduce by rule -1 - value.
    `words`: the words and signs that are tokens of their own. `starts`, `ends`: states by start symbol.
    """

    actions: tuple[Mapping[str, int], ...]
    rules: tuple[Rule, ...]
    words: Mapping[str, str]
    starts: Mapping[str, int]
    ends: Mapping[str, int]


class Unexpected(Exception):
    """The text from `start` to `end` cannot stand there; both None if the text ends too early."""

    def __init__(self, start: int | None, end: int | None) -> None:
        super().__init__(start, end)
        self.start = start
        self.end = end


_TOKEN = re.compile(r"\s*(?:([^\W\d]\w*)|(\d+)|(\.\.|<=|\+-|\S))")
_REST_OF_NUMBER = re.compile(r"(?:\.\d+)?(?:[eE][+-]?\d+)?")
_PER = re.compile(r"/(?=[^\W\d])")
_TWO_WORDS = {"IS_NOT": re.compile(r"is\s+not\b"), "AT_MOST": re.compile(r"at\s+most\b")}


def run(start: str, text: str, call: Callable[[str, list[Any]], Any]) -> Any:
    """Parse `text` from the start symbol; `call(alias, children)` makes the value of each reduction. `Unexpected` if it
    does not fit. Cost: linear."""
    tables = kept_tables()
    states = [tables.starts[start]]
    values: list[Any] = []
    end = tables.ends[start]
    position = 0
    token = _next(text, position, tables, states[-1])
    while True:
        accepted = tables.actions[states[-1]]
        action = accepted.get(token.type)
        if action is None:
            if token.type == "$END":
                raise Unexpected(None, None)
            raise Unexpected(token.start, token.end)
        if action >= 0:
            states.append(action)
            values.append(token)
            position = token.end
            token = _next(text, position, tables, states[-1])
            continue
        rule = tables.rules[-1 - action]
        first = len(values) - rule.length
        children: list[Any] = []
        for i in rule.kept:
            child = values[first + i]
            if isinstance(child, _Spliced):
                children.extend(child.children)
            else:
                children.append(child)
        del values[first:], states[first + 1 :]
        if rule.spliced:
            values.append(_Spliced(children))
        else:
            values.append(call(rule.calls, children) if rule.calls else children[0])
        states.append(tables.actions[states[-1]][rule.name])
        if states[-1] == end and token.type == "$END":
            return values[0]
        if token.type != "$END":
            token = _next(text, position, tables, states[-1])


@dataclass(frozen=True, slots=True)
class _Spliced:
    children: list[Any]


def _next(text: str, position: int, tables: Tables, state: int) -> Token:
    """The next token that the state accepts; else the next word or sign as it stands."""
    found = _TOKEN.match(text, position)
    if found is None:
        return Token("$END", "", len(text), len(text))
    accepted = tables.actions[state]
    word, digits, sign = found.groups()
    start, end = found.start(found.lastindex or 0), found.end()
    if word is not None:
        for type, pattern in _TWO_WORDS.items():
            if type in accepted and (two := pattern.match(text, start)):
                return Token(type, two.group(), start, two.end())
        type = tables.words.get(word, "WORD")
        return Token(type if type in accepted else "WORD", word, start, end)
    if digits is not None:
        if "NUMBER" in accepted:
            rest = _REST_OF_NUMBER.match(text, end)
            end = end if rest is None else rest.end()
            return Token("NUMBER", text[start:end], start, end)
        return Token("INT", digits, start, end)
    if "PER" in accepted and _PER.match(text, start):
        return Token("PER", sign, start, end)
    if sign == "+-" and "AROUND" not in accepted:
        sign, end = "+", start + 1
    return Token(tables.words.get(sign, "?"), sign, start, end)


@cache
def kept_tables() -> Tables:
    """The tables kept in the package."""
    stored = json.loads(_HERE.joinpath("tables.json").read_text(encoding="utf-8"))
    return Tables(
        tuple(stored["actions"]),
        tuple(
            Rule(name, length, calls, tuple(kept), spliced) for name, length, calls, kept, spliced in stored["rules"]
        ),
        stored["words"],
        stored["starts"],
        stored["ends"],
    )


def grammar_text() -> str:
    """The grammar as written."""
    return _HERE.joinpath("grammar.lark").read_text(encoding="utf-8")


def make(starts: tuple[str, ...]) -> str:
    """The tables that lark makes of the grammar, as the text of `tables.json`."""
    from lark import Lark
    from lark.lexer import PatternStr
    from lark.parsers.lalr_analysis import Shift

    parser = Lark(grammar_text(), parser="lalr", start=list(starts), maybe_placeholders=False)
    table: Any = parser.parser.parser._parse_table
    used = {argument for row in table.states.values() for action, argument in row.values() if action is not Shift}
    rules = sorted(used, key=lambda rule: (rule.origin.name, [symbol.name for symbol in rule.expansion]))
    number = {rule: i for i, rule in enumerate(rules)}
    order = _numbered(table, Shift)
    actions = [
        {
            symbol: order[argument] if action is Shift else -1 - number[argument]
            for symbol, (action, argument) in sorted(table.states[state].items())
        }
        for state in order
    ]
    stored = {
        "grammar": sha256(grammar_text().encode()).hexdigest(),
        "starts": {name: order[state] for name, state in sorted(table.start_states.items())},
        "ends": {name: order[state] for name, state in sorted(table.end_states.items())},
        "words": {
            terminal.pattern.value: terminal.name
            for terminal in sorted(parser.terminals, key=lambda one: one.name)
            if isinstance(terminal.pattern, PatternStr)
        },
        "rules": [_rule(rule) for rule in rules],
        "actions": actions,
    }
    lines = [f'"{key}": {json.dumps(value)}' for key, value in stored.items() if key not in ("rules", "actions")]
    lines += [
        f'"{key}": [\n' + ",\n".join(json.dumps(row) for row in stored[key]) + "\n]" for key in ("rules", "actions")
    ]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _numbered(table: Any, shift: Any) -> dict[Any, int]:
    """Numbers of the states: from the start states, breadth first, symbols in alphabetical order."""
    queue = [state for _, state in sorted(table.start_states.items())]
    order = {state: i for i, state in enumerate(queue)}
    for state in queue:
        for _, (action, argument) in sorted(table.states[state].items(), key=lambda entry: entry[0]):
            if action is shift and argument not in order:
                order[argument] = len(order)
                queue.append(argument)
    return order


def _rule(rule: Any) -> list[Any]:
    name = rule.origin.name
    kept = [i for i, symbol in enumerate(rule.expansion) if not (symbol.is_term and symbol.filter_out)]
    spliced = name.startswith("_")
    hands_on = rule.options.expand1 and rule.alias is None and len(kept) == 1
    return [name, len(rule.expansion), "" if hands_on or spliced else rule.alias or name, kept, spliced]


if __name__ == "__main__":
    _HERE.joinpath("tables.json").write_text(make(STARTS), encoding="utf-8")
