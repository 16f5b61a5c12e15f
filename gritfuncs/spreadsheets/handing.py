"""XML handed to a handler element by element, chunk by chunk: whatever a part says, no more of it is held than the handler keeps."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Protocol
from xml.parsers import expat

from ..refused import Refused

MOST_TAGS = 10_000_000  # of a part, two for an element with content

_CHUNK = 1 << 16


class Handler(Protocol):
    """What gets the elements; names are of the form namespace, blank, name."""

    place: Callable[[], int]  # set here: tells at which byte an element starts or ends while it is handed over

    def start(self, name: str, attributes: dict[str, str]) -> None: ...

    def end(self, name: str) -> None: ...

    def data(self, text: str) -> None: ...


def handed(data: bytes, handler: Handler) -> Iterator[None]:
    """Give XML to a handler; ValueError where it is damaged, beyond bounds or declares a document type."""
    if data.count(b"<") > MOST_TAGS:
        raise Refused("", f"have at most {MOST_TAGS} tags")
    # UTF-8 whatever the part declares: a declared encoding could hide what other programs must not be given.
    parser = expat.ParserCreate("utf-8", " ")
    parser.buffer_text = True
    parser.StartElementHandler, parser.EndElementHandler = handler.start, handler.end
    parser.CharacterDataHandler = handler.data
    parser.StartDoctypeDeclHandler = _refuse_doctype
    handler.place = lambda: parser.CurrentByteIndex
    try:
        for place in range(0, len(data) or 1, _CHUNK):
            parser.Parse(data[place : place + _CHUNK], place + _CHUNK >= len(data))
            yield
    except expat.ExpatError as error:
        raise ValueError(str(error)) from None


def _refuse_doctype(*_: object) -> None:
    raise ValueError("it must not declare a document type")
