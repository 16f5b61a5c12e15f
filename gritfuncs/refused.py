"""The one refusal: which input, what it must be, what it was, and where it stands.  Standard library only."""

from __future__ import annotations


def printable(text: str) -> str:
    """The text in one line, with a blank for every sign that cannot be printed."""
    return "".join(sign if sign.isprintable() else " " for sign in " ".join(text.split()))


class Refused(ValueError):
    """An input that cannot be used; its text is one line: `place: name must be ... (got ...); hint`.

    Whoever finds the fault says name, requirement and value; whoever knows the place, or another name for the input,
    adds it with `at` and `named`.  Nobody needs to take the text apart.

    name : the input as the caller knows it, "" where the place says it
    must : what it has to be or do, with unit, beginning with the verb: "be > 0 mm", "have one row of headings"
    got : what it was, ready to be shown; "" where there is nothing to show
    place : where it stands, such as a file, a row or a cell, from the outside in
    hint : what to do about it, where the requirement does not say it
    """

    def __init__(self, name: str, must: str, got: str = "", place: tuple[str, ...] = (), hint: str = ""):
        super().__init__(name, must, got, place, hint)
        self.name, self.must, self.got, self.place, self.hint = name, must, got, place, hint

    def at(self, place: object) -> Refused:
        """The same refusal, inside of a place, unless that is its outermost one already."""
        if self.place[:1] == (str(place),):
            return self
        return Refused(self.name, self.must, self.got, (str(place), *self.place), self.hint)

    def named(self, name: str) -> Refused:
        """The same refusal under the name by which the caller knows the input."""
        return Refused(name, self.must, self.got, self.place, self.hint)

    @property
    def fault(self) -> str:
        """Name, requirement and value, without the place."""
        got = f" (got {self.got})" if self.got else ""
        hint = f"; {self.hint}" if self.hint else ""
        return f"{self.name} must {self.must}{got}{hint}".lstrip()

    def __str__(self) -> str:
        return printable(": ".join((*self.place, self.fault)))


class Unusable(Refused):
    """A refusal in a sentence of its own, where no single input is at fault."""

    def __init__(self, sentence: str, place: tuple[str, ...] = ()):
        super().__init__("", "", "", place)
        self.args = (sentence, place)
        self.sentence = sentence

    def at(self, place: object) -> Unusable:
        if self.place[:1] == (str(place),):
            return self
        return Unusable(self.sentence, (str(place), *self.place))

    def named(self, name: str) -> Unusable:
        return self

    @property
    def fault(self) -> str:
        return self.sentence
