"""Where everything stands in a packed situation: a key of one or more 64-bit words, and a place among 64 in a block.

In: variables, codes, the variables whose bits are the place in a block (`low`). Out: packing both ways.

A *block* is all situations with one key. The code stands at the bottom of the first word, the flags of observers above
it, then the variables in their order. No field straddles two words or two chunks; a *chunk* is some neighbouring fields
that are looked up together.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from interlock.core.system import Valuation, Variable
from interlock.engines.explicit.codes import Codes

PLACE_BITS = 6
CHUNK_BITS = 9


@dataclass(frozen=True, slots=True)
class Field:
    """A variable in the key: bits `shift` .. `shift + width` of a word."""

    name: str
    size: int
    word: int
    shift: int
    width: int

    @property
    def mask(self) -> int:
        """The bits of the field in its word."""
        return ((1 << self.width) - 1) << self.shift


@dataclass(frozen=True, slots=True)
class Chunk:
    """Neighbouring fields that are looked up together."""

    word: int
    shift: int
    width: int
    fields: tuple[Field, ...]


@dataclass(frozen=True, slots=True)
class Packed:
    """A situation with the failures spent and flags: the words of its key, and its place in the block."""

    key: tuple[int, ...]
    place: int


def width_of(variable: Variable) -> int:
    """Bits of a variable."""
    return (len(variable.values) - 1).bit_length()


class Layout:
    """The layout. `words`: 64-bit words of a key; `code_width`: bits of the code, at the bottom of word 0."""

    def __init__(
        self,
        variables: tuple[Variable, ...],
        codes: Codes,
        flags: tuple[Variable, ...] = (),
        low: tuple[str, ...] = (),
        least_words: int = 1,
    ) -> None:
        self.variables = variables
        self.codes = codes
        self.flags = flags
        self.low: dict[str, tuple[int, int]] = {}
        coded = set(codes.names)
        sizes = {v.name: v for v in variables}
        places = 0
        for name in low:
            width = width_of(sizes[name])
            self.low[name] = (places, width)
            places += width
        if places > PLACE_BITS or coded & set(low):
            raise ValueError(low)
        self.places = 1 << places
        self.code_width = max(1, (len(codes.sets) - 1).bit_length())
        self.chunks: list[Chunk] = [Chunk(0, 0, self.code_width, ())]
        self.fields: dict[str, Field] = {}
        in_key = [v for v in variables if v.name not in coded and v.name not in self.low and width_of(v)]
        total = self.code_width + sum(map(width_of, (*flags, *in_key)))
        per_word = 64 if least_words == 1 else max(self.code_width + len(flags), -(-total // least_words))
        self._put(flags, per_word)
        flags_width = sum(map(width_of, flags))
        self.flag_shift, self.flag_mask = self.code_width, ((1 << flags_width) - 1) << self.code_width
        self._put(in_key, per_word)
        self.words = self.chunks[-1].word + 1
        self._coded = tuple((i, 1 << codes.names.index(v.name)) for i, v in enumerate(variables) if v.name in coded)

    def _put(self, variables: Iterable[Variable], per_word: int) -> None:
        for variable in variables:
            width = width_of(variable)
            last = self.chunks[-1]
            word, shift = last.word, last.shift + last.width
            if shift + width > per_word:
                word, shift = word + 1, 0
            field = Field(variable.name, len(variable.values), word, shift, width)
            self.fields[variable.name] = field
            if last.fields and word == last.word and last.width + width <= CHUNK_BITS:
                self.chunks[-1] = Chunk(word, last.shift, last.width + width, (*last.fields, field))
            else:
                self.chunks.append(Chunk(word, shift, width, (field,)))

    def pack(self, valuation: Valuation, spent: int, flags: Mapping[str, bool] | None = None) -> Packed:
        """A valuation with the failures spent and the flags (unset if not given). KeyError if no code stands for it."""
        words = [0] * self.words
        place = 0
        for variable, value in zip(self.variables, valuation, strict=True):
            field = self.fields.get(variable.name)
            if field is not None:
                words[field.word] |= value << field.shift
            elif variable.name in self.low:
                place |= value << self.low[variable.name][0]
        for name, value in (flags or {}).items():
            words[0] |= int(value) << self.fields[name].shift
        chosen = sum(bit for i, bit in self._coded if valuation[i])
        words[0] |= self.codes.index[chosen, spent]
        return Packed(tuple(words), place)

    def unpack(self, packed: Packed) -> tuple[Valuation, int]:
        """The valuation, and the failures spent."""
        code = packed.key[0] & ((1 << self.code_width) - 1)
        chosen = self.codes.sets[code]
        present = {self.codes.names[i] for i in range(len(self.codes.names)) if chosen >> i & 1}
        found = []
        for variable in self.variables:
            field = self.fields.get(variable.name)
            if field is not None:
                found.append((packed.key[field.word] & field.mask) >> field.shift)
            elif variable.name in self.low:
                shift, width = self.low[variable.name]
                found.append(packed.place >> shift & ((1 << width) - 1))
            else:
                found.append(int(variable.name in present))
        return tuple(found), self.codes.spent[code]

    def places_where(self, name: str, values: int) -> int:
        """The places (bits) at which a low variable has one of some values (bits)."""
        shift, width = self.low[name]
        return sum(1 << p for p in range(64) if values >> (p >> shift & ((1 << width) - 1)) & 1)
