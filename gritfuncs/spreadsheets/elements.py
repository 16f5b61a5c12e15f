"""Elements in the bytes of a part: found by an XML parser with their places, so that single ones change and all else stays.

A part is read by the rules of XML whatever its spelling: prefixes, quotes, entities, comments, CDATA, line ends, empty
elements in either form.  A name here is always the local one, since the two forms of the format have different namespaces.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator
from xml.parsers import expat
from xml.sax.saxutils import escape

from ..refused import Refused

LONGEST_RUN = 1_000_000  # bytes without an opening <, such as a text or an attribute
MOST_CHILDREN = 100_000  # elements of the names that are looked for inside of one another

_CHUNK = 1 << 18
_TAG = re.compile(rb"""<([^\s<>/"']+)[^<>"']*(?:(?:"[^"]*"|'[^']*')[^<>"']*)*>""")
_ATTRIBUTE = re.compile(rb"""\s+([^\s=<>/"']+)\s*=\s*(?:"[^"]*"|'[^']*')""")


class Element:
    """An element that is complete: what it says, and where it stands in the bytes of its part.

    data[start:inner] is its opening tag, data[inner:inner_end] its content, data[inner_end:end] its closing tag, which an
    empty element may lack.  `children` are the nearest ones inside it of the names that were looked for.
    """

    __slots__ = ("name", "attributes", "text", "start", "children", "_data", "_closing", "_tag_found")

    def __init__(self, name: str, attributes: dict[str, str], start: int, data: bytes):
        self.name, self.attributes, self.start = name, attributes, start
        self.text = ""
        self.children: list[Element] = []
        self._data, self._closing, self._tag_found = data, start, None

    def complete(self, text: str, closing: int) -> None:
        """What it says, and where its closing tag stands."""
        self.text, self._closing = text, closing

    def get(self, attribute: str, default: str = "") -> str:
        return self.attributes.get(attribute, default)

    def child(self, name: str) -> Element | None:
        for child in self.children:
            if child.name == name:
                return child
        return None

    @property
    def relation(self) -> str:
        """The identifier of the relation that it refers to."""
        return next((value for name, value in self.attributes.items() if name.endswith(" id")), "")

    @property
    def _tag(self) -> re.Match:
        if self._tag_found is None:
            self._tag_found = _TAG.match(self._data, self.start)
        return self._tag_found

    @property
    def inner(self) -> int:
        return self._tag.end()

    @property
    def is_empty_tag(self) -> bool:
        return self._tag[0].endswith(b"/>")

    @property
    def inner_end(self) -> int:
        return self.inner if self.is_empty_tag else self._closing

    @property
    def end(self) -> int:
        return self.inner if self.is_empty_tag else self._data.index(b">", self._closing) + 1

    @property
    def opening(self) -> bytes:
        """Its opening tag, in the form of an element that has content."""
        tag = self._tag[0]
        return tag[:-2].rstrip() + b">" if self.is_empty_tag else tag

    @property
    def closing(self) -> bytes:
        return b"</" + self._tag[1] + b">"

    @property
    def prefix(self) -> str:
        """What stands before its name, with the colon."""
        prefix, colon, _ = self._tag[1].rpartition(b":")
        return (prefix + colon).decode()

    @property
    def bytes(self) -> bytes:
        return self._data[self.start : self.end]

    def with_content(self, content: bytes) -> bytes:
        return self.opening + content + self.closing

    def with_child(self, child: bytes) -> bytes:
        """With another element at the end of its content."""
        return self.with_content(self._data[self.inner : self.inner_end] + child)


class _Wanted(dict):
    """The local name of an element by its name with the namespace, None where it is not looked for; each is parted only once."""

    def __init__(self, names: Collection[str]):
        self.names = frozenset(names)

    def __missing__(self, full_name: str) -> str | None:
        name = full_name.rpartition(" ")[2]
        self[full_name] = name if name in self.names else None
        return self[full_name]


def elements(data: bytes, names: Collection[str]) -> Iterator[Element]:
    """The elements of these names, each when it closes, so that children come first.

    ValueError for what is not well-formed with all its prefixes declared, or beyond bounds.
    """
    local = _Wanted(names)
    complete: list[Element] = []
    path: list[Element] = []
    texts: list[list[str]] = []

    def start(full_name: str, attributes: dict[str, str]) -> None:
        name = local[full_name]
        if name is not None:
            if not path:
                parser.EndElementHandler, parser.CharacterDataHandler = end, content
            path.append(Element(name, attributes, parser.CurrentByteIndex, data))
            texts.append([])

    def end(full_name: str) -> None:
        if local[full_name] is not None:
            element = path.pop()
            element.complete("".join(texts.pop()), parser.CurrentByteIndex)
            if path:
                around = path[-1]
                if len(around.children) >= MOST_CHILDREN:
                    raise Refused("", f"have at most {MOST_CHILDREN} {element.name} in one {around.name}", "more")
                around.children.append(element)
            else:
                parser.EndElementHandler = parser.CharacterDataHandler = None
            complete.append(element)

    def content(text: str) -> None:
        texts[-1].append(text)

    # UTF-8 whatever the part declares: a declared encoding could hide what other programs must not be given.
    parser = expat.ParserCreate("utf-8", " ")
    parser.buffer_text = True
    parser.StartDoctypeDeclHandler = _refuse_doctype
    if names:
        parser.StartElementHandler = start
    _refuse_long_runs(data)
    for place in range(0, len(data) or 1, _CHUNK):
        try:
            parser.Parse(data[place : place + _CHUNK], place + _CHUNK >= len(data))
        except expat.ExpatError as error:
            raise ValueError(str(error)) from None
        yield from complete
        complete.clear()


def _refuse_doctype(*_) -> None:
    raise Refused("", "not declare document types or entities")


def _refuse_long_runs(data: bytes) -> None:
    """What has no end for megabytes is read again and again by the parser."""
    for place in range(0, len(data) - LONGEST_RUN, LONGEST_RUN):
        if data.find(b"<", place, place + LONGEST_RUN) < 0:
            raise Refused("", f"have no text or attribute of more than {LONGEST_RUN // 1000} kB")


def refuse_malformed(data: bytes) -> None:
    """ValueError if the bytes are no XML that a spreadsheet program could read."""
    for _ in elements(data, ()):
        pass


def spliced(data: bytes, edits: Iterable[tuple[int, int, bytes]]) -> bytes:
    """The bytes with each data[start:end] exchanged; the places must not overlap."""
    pieces, done = [], 0
    for start, end, new in sorted(edits):
        pieces += [data[done:start], new]
        done = end
    return b"".join([*pieces, data[done:]])


def with_attribute(tag: bytes, name: str, value: str | None) -> bytes:
    """An opening tag with a plain attribute as its first one, or without it."""
    rest = _ATTRIBUTE.sub(lambda found: b"" if found[1] == name.encode() else found[0], tag)
    if value is None:
        return rest
    spelled = _TAG.match(tag)[1]
    return b"<" + spelled + f' {name}="{escape_attribute(value)}"'.encode() + rest[1 + len(spelled) :]


def escape_text(text: str) -> bytes:
    """Text for the content of an element; the sign that XML would make a line end of stays what it is."""
    return escape(text, {"\r": "&#13;"}).encode()


def escape_attribute(text: str) -> str:
    """Text for an attribute in double quotes, line ends and tabs kept."""
    return escape(text, {'"': "&quot;", "\n": "&#10;", "\r": "&#13;", "\t": "&#9;"})
