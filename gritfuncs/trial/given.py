"""Setup values that are given in several places: which one counts, and where each came from."""

from __future__ import annotations

import datetime
import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from ..values import is_blank
from .setup_values import setup_from
from .shop_units import Words
from .words import SETUP_WORDS

# What an earlier place says of these words does not go with a later value of the first.
_TAKES_THE_PLACE_OF = {
    "wheel_speed": ("wheel_rpm",),
    "wheel_rpm": ("wheel_speed",),
    "infeed_rate": ("infeed_basis",),
    "grit_size": ("designation", "grit_density"),
    "designation": ("grit_size", "grit_density"),
    "concentration": ("grit_density",),
    "active_fraction": ("grit_density",),
}
# What a value of the setup follows from where it is not given itself.
_FROM = {"wheel_speed": ("wheel_rpm",), "grit_density": ("grit_size", "designation", "concentration", "active_fraction")}


@dataclass(frozen=True)
class Given:
    """Values by word in the shop's units, where each came from, and the name by which a message calls each."""

    values: Mapping[str, Any]
    sources: Mapping[str, str]
    shown: Callable[[str], str] = str
    written: Mapping[str, str] = field(default_factory=dict)  # as they stand there, with their unit: "8 in"

    @classmethod
    def in_(
        cls, source: str, values: Mapping[str, Any], shown: Callable[[str], str] = str, written: Mapping[str, str] | None = None
    ) -> Given:
        """What one place says."""
        sources = {word: source for word, value in values.items() if not is_blank(value)}
        return cls(values, sources, shown, written or {})

    @property
    def words(self) -> Words:
        return Words(dict(self.values), self.shown)

    def outside(self) -> Given:
        """The same for messages that do not name the place anyway."""

        def shown(word: str) -> str:
            return f"{self.sources[word]}: {self.shown(word)}" if word in self.sources else word

        return Given(self.values, self.sources, shown, self.written)

    def under(self, later: Given) -> Given:
        """These values where the later place says nothing else."""
        said = {word: value for word, value in later.values.items() if not is_blank(value)}
        gone = {old for word in said for old in _TAKES_THE_PLACE_OF.get(word, ())} - set(said)
        values = {word: value for word, value in self.values.items() if word not in gone}
        sources = {word: source for word, source in self.sources.items() if word not in gone}

        def shown(word: str) -> str:
            return later.shown(word) if word in said else self.shown(word)

        written = {word: text for word, text in self.written.items() if word in values and word not in said}
        written.update((word, text) for word, text in later.written.items() if word in said)
        return Given({**values, **said}, {**sources, **{word: later.sources[word] for word in said}}, shown, written)

    def without_setup(self) -> Given:
        """What goes beside a setup that is made already."""
        gone = {*SETUP_WORDS, *(word for words in _FROM.values() for word in words)}
        values, sources, written = (
            {word: said for word, said in each.items() if word not in gone} for each in (self.values, self.sources, self.written)
        )
        return Given(values, sources, self.shown, written)

    def source_of(self, word: str) -> str:
        """Where a value of the setup came from; "" where nobody gave it."""
        if word in self.sources:
            return self.sources[word]
        return " and ".join(dict.fromkeys(self.sources[other] for other in _FROM.get(word, ()) if other in self.sources))

    @property
    def date(self) -> datetime.date | None:
        """The day that is stated as 2026-11-05 or 5.11.2026; None for any other way, which could mean two days."""
        text = str(self.values.get("date") or "").strip()
        found = re.fullmatch(r"(\d{1,2})\.\s?(\d{1,2})\.\s?(\d{4})", text)
        try:
            return datetime.date(*map(int, reversed(found.groups()))) if found else datetime.date.fromisoformat(text)
        except ValueError:
            return None

    def missing(self) -> list[str]:
        """The words that a setup lacks."""
        return setup_from(self.words)[1]


NOTHING = Given({}, {})


@dataclass(frozen=True)
class Around:
    """What is given beside a file: the file's own values go before those of the first, and those of the second before it."""

    before: Given = NOTHING
    after: Given = NOTHING

    def with_file(self, given: Given) -> Given:
        return self.before.under(given).under(self.after)

    @property
    def alone(self) -> Given:
        """Both where there is no file."""
        return self.before.under(self.after)
