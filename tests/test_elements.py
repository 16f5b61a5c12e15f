"""Elements are found and changed by the rules of XML, whatever the spelling, and all other bytes stay."""

from __future__ import annotations

import time
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from gritfuncs.spreadsheets.elements import elements, escape_attribute, escape_text, refuse_malformed, spliced, with_attribute

TEXT = st.text(st.characters(exclude_categories=("Cs",), exclude_characters="\ufffe\uffff", min_codepoint=32)) | st.sampled_from(
    ["\r", "\r\n", "\n\t", "\t", "]]>", "&amp;", "&#13;", "<a>", "'\"", "_x000D_"]
)


def found(xml, *names):
    return [element for element in elements(xml.encode(), names)]


@pytest.mark.parametrize(
    "xml",
    [
        "<a><b k='1'>x&lt;y</b></a>",
        '<a><b k="1">x&lt;y</b></a>',
        "<a>\n<b\n k = '1' >x&#60;y</b\n></a>",
        "<p:a xmlns:p='urn:p'><p:b k='1'>x&#x3C;y</p:b></p:a>",
        "<a xmlns='urn:p'><b k='1' j='>'>x<![CDATA[<]]>y</b></a>",
        "<a><b k='1'>x<!-- <b k='2'> -->&lt;y</b></a>",
        "\ufeff<?xml version='1.0' encoding='utf-8'?><!-- <b/> --><a><b k='1'>x&lt;y</b></a>",
        "<a>µ€<b k='1'>x&lt;y</b></a>",
    ],
)
def test_an_element_in_every_spelling(xml):
    (element,) = found(xml, "b")
    assert (element.get("k"), element.text, element.name) == ("1", "x<y", "b")
    data = xml.encode()
    root = ElementTree.fromstring(spliced(data, [(element.inner, element.inner_end, b"new")]).lstrip("\ufeff".encode()))
    assert root[0].text == "new" and root[0].get("k") == "1"
    assert data[element.start :].startswith(b"<") and data[: element.end].endswith(b">")
    again = spliced(data, [(element.start, element.end, element.with_content(b"new"))])
    assert ElementTree.fromstring(again.lstrip("\ufeff".encode()))[0].text == "new"


@pytest.mark.parametrize("empty", ["<b/>", "<b />", "<b></b>", "<b\n/>", "<b k='/'/>", '<b k=">"></b>'])
def test_an_empty_element_takes_content(empty):
    data = f"<a>{empty}<c/></a>".encode()
    (element,) = elements(data, ["b"])
    assert data[element.start : element.end].decode() == empty and element.text == ""
    root = ElementTree.fromstring(spliced(data, [(element.start, element.end, element.with_child(b"<d/>"))]))
    assert [child.tag for child in root] == ["b", "c"] and root[0][0].tag == "d"
    assert root[0].attrib == element.attributes


def test_children_come_with_their_parent():
    row, *_ = [element for element in found("<r><row><c><x><f>1</f></x><v>2</v></c><c/></row></r>", "row", "c", "f", "v")][-1:]
    assert [cell.name for cell in row.children] == ["c", "c"]
    assert row.children[0].child("f").text == "1" and row.children[0].child("v").text == "2"
    assert row.children[1].child("f") is None


@given(text=TEXT)
def test_text_comes_back_as_it_was_written(text):
    data = b"<a>" + escape_text(text) + b"</a>"
    (element,) = elements(data, ["a"])
    assert element.text == text
    tag = with_attribute(b"<a j='k=\"1\"' k='old'>", "k", text)
    (element,) = elements(tag + b"</a>", ["a"])
    assert element.attributes == {"k": text, "j": 'k="1"'}
    assert with_attribute(tag, "k", None) == b"<a j='k=\"1\"'>"
    assert escape_attribute(text) == escape_attribute(text).strip("\n\r\t")


@pytest.mark.parametrize(
    "xml, why",
    [
        ("<a><b></a>", "mismatched tag"),
        ("<r:a/>", "unbound prefix"),
        ("<a r:id='1'/>", "unbound prefix"),
        ("<a/><a/>", "junk after document element"),
        ("", "no element found"),
        ("<a>&b;</a>", "undefined entity"),
        ("<a k='1' k='2'/>", "duplicate attribute"),
        ("<!DOCTYPE a><a/>", "must not declare document types"),
        ("<a>\x01</a>", "not well-formed"),
    ],
)
def test_what_is_no_xml_is_refused(xml, why):
    for check in (refuse_malformed, lambda data: list(elements(data, ["a"]))):
        with pytest.raises(ValueError, match=why) as error:
            check(xml.encode())
        assert "\n" not in str(error.value)


def test_bytes_that_are_not_utf_8_are_refused():
    with pytest.raises(ValueError, match="not well-formed"):
        refuse_malformed('<?xml version="1.0" encoding="iso-8859-1"?><a>é</a>'.encode("latin-1"))


@pytest.mark.parametrize("hostile", [b"<a k='" + b"x" * 40_000_000 + b"'/>", b"<a>" + b"x" * 40_000_000 + b"</a>"])
def test_what_has_no_end_is_refused_at_once(hostile):
    start = time.perf_counter()
    with pytest.raises(ValueError, match="no text or attribute of more than 1000 kB"):
        list(elements(hostile, ["a"]))
    assert time.perf_counter() - start < 2  # reading it takes minutes


def test_places_are_right_beyond_the_first_chunk():
    data = ("<a>" + "<b k='µ'>é</b>" * 50_000 + "</a>").encode()
    places = [(element.start, element.end) for element in elements(data, ["b"])]
    assert len(places) == 50_000 and all(data[start:end] == "<b k='µ'>é</b>".encode() for start, end in places)
