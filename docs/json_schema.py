"""docs/output.schema.json: what the commands print with --json, from the fields of what they print."""

from __future__ import annotations

import inspect
import json
import re
from dataclasses import fields, is_dataclass
from typing import Any

from gritfuncs.comparison.estimate import Estimate
from gritfuncs.comparison.result import WORDS
from gritfuncs.knee import Advice, Confirmation, Knee
from gritfuncs.planning import Limits, PlannedReading, SpeedCell
from gritfuncs.trial import Reading, Setup
from gritfuncs.workbooks.blocks.record import COLUMNS
from gritfuncs.workbooks.blocks.record_setups import SETUP_COLUMNS

NAMED = {each.__name__: each for each in (Advice, Confirmation, Knee, Limits, PlannedReading, Reading, Setup, SpeedCell)}
PLAIN = {"float": "number", "int": "integer", "str": "string", "bool": "boolean", "None": "null"}
SOURCES = {"type": "object", "description": "where each value came from, by its word", "additionalProperties": {"type": "string"}}


def schema() -> str:
    """The whole schema; the output of a command is that under its name in $defs."""
    definitions = {**{name: _object(each) for name, each in NAMED.items()}, **_outputs()}
    top = {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "title": "What gritfuncs prints with --json",
        "description": "Validate the output of a command against its name in $defs. Units stand in the descriptions.",
        "$defs": definitions,
    }
    return json.dumps(top, indent=2, ensure_ascii=False) + "\n"


def _outputs() -> dict[str, Any]:
    number, text = {"type": "number"}, {"type": "string"}
    texts = {"type": "array", "items": text}
    trial = dict(
        source={**text, "description": "file, and sheet where it has sheets"},
        setup=_or_null(_named("Setup")),
        sources=SOURCES,
        steps={**text, "description": "what was stepped: rpm, rpm and infeed, infeed, wheel speed, or several settings"},
        load_kind={"enum": ["power", "current", "relative", "specific_energy"]},
        depth_unit={"enum": ["µm", "relative"]},
        energy_unit={"enum": ["J/mm³", "kW", "kW at the setup's removal rate", "A", "relative"]},
        noise={"type": ["number", "null"], "description": "scatter as a share, where it was given"},
        limits=_named("Limits"),
        nominal_rpm={"type": ["number", "null"], "description": "1/min"},
        counts={"type": "object", "additionalProperties": {"type": "integer"}},
        remarks=texts,
        readings={"type": "array", "items": _named("Reading")},
        knee=_or_null(_named("Knee")),
        damage={"type": "array", "items": _closed(dict(row={"type": "integer"}, words=text))},
        knee_rpm={"type": ["number", "null"], "description": "1/min that holds the knee; null where none is to be set"},
        suspect_row={"type": ["integer", "null"]},
    )
    failed = dict(source=text, error={**text, "description": "the line on standard error"})
    table = dict(
        grit_depth={**number, "description": "µm"},
        band={**number, "description": "allowed deviation, a share of the depth"},
        wheel_speed={**number, "description": "m/s"},
        work_diameters={"type": "array", "items": number, "description": "mm"},
        infeed_rates={"type": "array", "items": number, "description": "mm/min on the radius"},
        rows={"type": "array", "items": {"type": "array", "items": _named("SpeedCell")}},
        sources=SOURCES,
    )
    confirmed = {**_object(Confirmation)["properties"], "key": text, "sources": SOURCES}
    entry = _entry(text)
    added = dict(file=text, backup={"type": ["string", "null"]}, remarks=texts, entry=entry)
    planned = {"type": "array", "items": _named("PlannedReading")}
    sweep = dict(
        lag={**number, "description": "s"},
        work_rpms={
            "type": "array",
            "items": number,
            "description": "turning points, 1/min; simulated only, not tried on a machine",
        },
        infeed_time={**number, "description": "s"},
        advice=text,
    )
    more = dict(readings=planned, remarks=texts, sweep=_or_null(_closed(sweep)), log={"type": ["string", "null"]})
    return {
        "knee": {"type": "array", "items": {"anyOf": [_closed(trial), _closed(failed)]}},
        "compare": _compared(text, texts),
        "next": _named("Advice"),
        "plan": {"anyOf": [planned, _closed(more)], "description": "the readings; with --log or --sweep an object"},
        "table": _closed(table),
        "confirm": _closed(confirmed),
        "record": {"anyOf": [{"type": "array", "items": entry}, entry, _closed(added)], "description": "list, show and add"},
    }


def _compared(text: dict[str, Any], texts: dict[str, Any]) -> dict[str, Any]:
    number = {"type": "number"}
    spans = {"description": "with the ends of the 95 % interval", **_closed({name: number for name in Estimate._fields})}
    span_or_null = _or_null(spans)
    difference = dict(
        name=text,
        word={"enum": list(WORDS)},
        reason=text,
        no_levels={**text, "description": "why levels do not compare"},
        knee_ratio={**spans, "description": "knee over that of the first"},
        knee_difference={**span_or_null, "description": "µm; null where depths are relative"},
        level_ratio={**span_or_null, "description": "level over that of the first; null where levels do not compare"},
    )
    drift = dict(
        days={"type": "integer"},
        per_month={**spans, "description": "change of the knee in 30 days, as a factor"},
        is_seen={"type": "boolean"},
    )
    return _closed(
        dict(
            names=texts,
            sources=texts,
            depth_unit={"enum": ["µm", "relative"]},
            knees={"type": "array", "items": spans, "description": "in the first trial's measure of depth"},
            levels={"type": "array", "items": span_or_null, "description": "each in its trial's energy unit"},
            factors={"type": "array", "items": number, "description": "by which the depths of each trial were multiplied"},
            dates={"type": "array", "items": {"type": ["string", "null"]}},
            differences={"type": "array", "items": _closed(difference)},
            drift=_or_null(_closed(drift)),
            remarks=texts,
        )
    )


def _entry(text: dict[str, Any]) -> dict[str, Any]:
    values = {column.name: _cell(column.heading) for column in COLUMNS}
    values["setup"] = {
        "type": "object",
        "properties": {column.name: _cell(column.heading) for column in SETUP_COLUMNS[1:]},
        "additionalProperties": False,
    }
    return _closed({**values, "key": text, "status": {**text, "description": "ok, or why it may not be used"}})


def _cell(heading: str) -> dict[str, Any]:
    return {"type": ["number", "string", "boolean", "null"], "description": heading}


def _object(each: type) -> dict[str, Any]:
    """The fields of a dataclass, each with its comment."""
    assert is_dataclass(each)
    comments = dict(re.findall(r"^    (\w+): [^#\n]*?  # (.*)$", inspect.getsource(each), re.MULTILINE))
    properties = {}
    for field in fields(each):
        properties[field.name] = _type(str(field.type))
        if field.name in comments:
            properties[field.name] = {**properties[field.name], "description": comments[field.name]}
    return _closed(properties)


def _type(annotation: str) -> dict[str, Any]:
    kinds = [_one(kind.strip()) for kind in annotation.split("|")]
    if all(set(kind) == {"type"} for kind in kinds):
        names = [kind["type"] for kind in kinds]
        return {"type": names[0] if len(names) == 1 else names}
    return kinds[0] if len(kinds) == 1 else {"anyOf": kinds}


def _one(kind: str) -> dict[str, Any]:
    if kind in PLAIN:
        return {"type": PLAIN[kind]}
    if kind in NAMED:
        return _named(kind)
    inside = re.fullmatch(r"tuple\[(.+), \.\.\.\]", kind)
    assert inside, kind
    return {"type": "array", "items": _type(inside[1])}


def _named(name: str) -> dict[str, Any]:
    return {"$ref": f"#/$defs/{name}"}


def _or_null(kind: dict[str, Any]) -> dict[str, Any]:
    return {"anyOf": [kind, {"type": "null"}]}


def _closed(properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "object", "properties": properties, "required": list(properties), "additionalProperties": False}
