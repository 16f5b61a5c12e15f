"""Setup values by name: the words a file may give, and the setup and meter that follow from them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from dataclasses import fields
from typing import Any, Callable, NamedTuple

from ..formulas import catalogue
from ..planning import Limits
from ..quantities import QUANTITIES, SIDE_WORDS
from ..quantity import Check, Quantity
from ..refused import Refused
from ..units import is_unit, parse, ratio
from ..values import finite_in, is_blank
from ..values import shown as shown_value
from .headings import HEADING_WORDS, basis_of, heads_idle, phrases, plain, read_heading, states_factor, without_basis, words
from .numbers import looks_like_number
from .readings import Unreadable
from .rows import Measured, Row, one_line, quoted, short

# What the depth follows from beside the work rpm, and the width by which power becomes energy.
SETUP_WORDS = tuple(quantity.name for quantity in catalogue["plunge_grit_depth"].arguments if quantity.name != "work_rpm") + (
    "contact_width",
)
SPEED_AGREEMENT = 0.01  # of the wheel speed; diameters and rpm are read to about this
LOAD_KINDS = ("power", "current", "relative")
BASES = ("radius", "diameter")
QUANTITY_WORDS = SETUP_WORDS + (
    "wheel_rpm",
    "grit_size",
    "designation",
    "concentration",
    "active_fraction",
    "volts",
    "power_factor",
)
LIMIT_WORDS = tuple(limit.name for limit in fields(Limits))
OTHER_WORDS = ("marked_wheel_speed", "infeed_basis", "load_kind", "idle", "noise", "decimal", "date", "nominal_rpm") + LIMIT_WORDS
# English, German, French, Italian, Spanish, Portuguese, Polish, Czech, Swedish; beside the word itself and its label in the vocabulary.
_CALLED = {
    "wheel_diameter": "wheel dia, wheel ø, ø wheel, wheel size, diameter of the wheel, grinding wheel diameter, wheel diameter d s, "
    "d s, ds, Scheibendurchmesser, Schleifscheibendurchmesser, Scheibe ø, Scheiben ø, diamètre de la meule, diamètre de meule, "
    "diamètre meule, meule ø, ø meule, diametro mola, diametro della mola, mola ø, ø mola, "
    "diámetro de la muela, diámetro de muela, diámetro muela, diâmetro do rebolo, diâmetro rebolo, średnica ściernicy, "
    "průměr kotouče, průměr brusného kotouče, skivdiameter, slipskivans diameter, skivans diameter",
    "work_diameter": "part diameter, workpiece diameter, work dia, part dia, workpiece dia, work ø, part ø, ø part, workpiece ø, "
    "bore, bore diameter, diameter of the part, work diameter d w, d w, dw, work ø, ø work, ø workpiece, Werkstückdurchmesser, Werkstück ø, Teil ø, "
    "diamètre de la pièce, diamètre de pièce, diamètre pièce, pièce ø, ø pièce, diametro pezzo, diametro del pezzo, pezzo ø, "
    "ø pezzo, "
    "diámetro de la pieza, diámetro de pieza, diámetro pieza, diâmetro da peça, diâmetro peça, średnica przedmiotu, "
    "średnica przedmiotu obrabianego, průměr obrobku, arbetsstyckets diameter",
    "infeed_rate": "infeed, feed, feed rate, plunge feed, plunge rate, plunge feed rate, infeed speed, infeed rate v f, v f, v fr, vf, vfr, "
    "infeed rate on the radius, Vorschub, Vorschubgeschwindigkeit, Zustellung, Zustellgeschwindigkeit, Einstechvorschub, "
    "Einstechgeschwindigkeit, avance, vitesse d avance, avance de plongée, vitesse de plongée, avanzamento, "
    "velocità di avanzamento, velocità avanzamento, "
    "velocidad de avance, avance de penetración, velocidad de penetración, avanço, velocidade de avanço, avanço de penetração, "
    "posuw, posuw wgłębny, prędkość posuwu, prędkość posuwu wgłębnego, dosuw, posuv, rychlost posuvu, přísuv, rychlost přísuvu, "
    "matning, matningshastighet, inmatning, inmatningshastighet",
    "wheel_speed": "peripheral speed, wheel peripheral speed, wheel surface speed, peripheral wheel speed, cutting speed, v s, v c, vs, vc, "
    "wheel speed v s, Scheibengeschwindigkeit, Umfangsgeschwindigkeit, Scheibenumfangsgeschwindigkeit, Schnittgeschwindigkeit, "
    "vitesse de meule, vitesse de la meule, vitesse meule, vitesse périphérique, vitesse de coupe, velocità mola, "
    "velocità della mola, velocità periferica, velocità di taglio, "
    "velocidad de la muela, velocidad de muela, velocidad muela, velocidad periférica, velocidad periférica de la muela, "
    "velocidad de corte, velocidade do rebolo, velocidade periférica, velocidade periférica do rebolo, velocidade de corte, "
    "prędkość ściernicy, prędkość obwodowa, prędkość obwodowa ściernicy, prędkość skrawania, rychlost kotouče, obvodová rychlost, "
    "obvodová rychlost kotouče, řezná rychlost, skivhastighet, periferihastighet, skivans periferihastighet, skärhastighet",
    "wheel_rpm": "spindle rpm, spindle speed, wheel speed of rotation, n s, ns, Scheibendrehzahl, Spindeldrehzahl, "
    "vitesse de rotation de la meule, vitesse de rotation meule, giri mola, velocità di rotazione mola, "
    "n Scheibe, Drehzahl Scheibe, rpm wheel, rpm muela, rpm de la muela, velocidad de giro de la muela, revoluciones de la muela, rpm do rebolo, "
    "rotação do rebolo, obroty ściernicy, prędkość obrotowa ściernicy, otáčky kotouče, otáčky brusného kotouče, "
    "skivans varvtal, skivvarvtal",
    "marked_wheel_speed": "marked speed, maximum wheel speed, max wheel speed, highest speed marked on the wheel, "
    "v max, vmax, v s max, vs max, max speed, maximum speed, speed marked on the wheel, maximum speed marked on the wheel, maximum operating speed, max operating speed, "
    "max peripheral speed, maximum peripheral speed, max surface speed, maximum surface speed, max speed of the wheel, marked on the wheel, "
    "wheel marked, marked, wheel max speed, rated speed, Arbeitshöchstgeschwindigkeit, max Umfangsgeschwindigkeit, "
    "maximale Umfangsgeschwindigkeit, max Arbeitsgeschwindigkeit, maximale Arbeitsgeschwindigkeit, vitesse maximale de service, "
    "vitesse max, velocità max, velocità massima di lavoro, zulässige Umfangsgeschwindigkeit, Höchstgeschwindigkeit, höchste Umfangsgeschwindigkeit, vitesse maximale, "
    "vitesse maximale de la meule, velocità massima, velocità massima della mola, velocità massima mola, "
    "vitesse maxi, vitesse maxi meule, vitesse maximale meule, velocidad máxima, velocidad máxima de la muela, "
    "velocidad máxima de trabajo, velocidade máxima, velocidade máxima do rebolo, velocidade máxima de trabalho, "
    "maksymalna prędkość ściernicy, maksymalna prędkość robocza, maksymalna prędkość obwodowa, dopuszczalna prędkość obwodowa, "
    "maximální rychlost kotouče, maximální obvodová rychlost, nejvyšší pracovní rychlost, nejvyšší obvodová rychlost, "
    "max hastighet, max periferihastighet, maximal periferihastighet, högsta periferihastighet",
    "side": "contact side, Seite, côté, lato, lado, strona, strana, sida",
    "grit_size": "grain size, mean grain size, Korngröße, mittlere Korngröße, taille de grain, taille des grains, "
    "dimensione del grano, dimensione grano, "
    "tamaño de grano, tamanho de grão, wielkość ziarna, velikost zrna, kornstorlek",
    "designation": "grit, grit number, mesh, mesh number, sieve, Körnung, grain, grana, ziarnistość, zrnitost",
    "concentration": "concentration number, Konzentration, concentration des grains, concentrazione, "
    "concentración, concentração, koncentracja, koncentrace",
    "contact_width": "width of cut, width of contact, plunge width, active width, Schleifbreite, Eingriffsbreite, "
    "largeur de contact, largeur de rectification, larghezza di contatto, larghezza di rettifica, "
    "ancho de contacto, ancho de rectificado, largura de contato, largura de retificação, szerokość szlifowania, "
    "szerokość styku, šířka broušení, šířka záběru, slipbredd, kontaktbredd",
    "volts": "voltage, Spannung, Netzspannung, tension, tensione, tensión, tensão, napięcie, napětí, spänning",
    "power_factor": "cos phi, cos φ, cosphi, Leistungsfaktor, facteur de puissance, fattore di potenza, "
    "factor de potencia, fator de potência, współczynnik mocy, účiník, effektfaktor",
    "infeed_basis": "basis, infeed counted on the, infeed counted on, infeed on the, infeed on",
    "load_kind": "kind of load, kind of load reading",
    "noise": "scatter, scatter of the readings, Streuung, dispersion, dispersione",
    "decimal": "decimal sign, decimals",
    "date": "date of the trial, trial date, Datum, Versuchsdatum, date de l essai, data della prova, fecha, fecha del ensayo",
    "nominal_rpm": "nominal work rpm, nominal work speed, Nenndrehzahl",
    "lowest_work_rpm": "lowest work rpm of the machine, lowest rpm, lowest rpm of the machine",
    "highest_work_rpm": "highest work rpm of the machine, highest work rpm of machine or chuck, highest rpm, "
    "highest rpm of the machine",
}
_WORDS = {words(name.replace("_", " ")): name for name in QUANTITY_WORDS + OTHER_WORDS}
_WORDS.update({words(QUANTITIES[name].label): name for name in QUANTITY_WORDS})
_WORDS.update({phrase: name for name, called in _CALLED.items() for phrase in phrases(called)})
# What stands for a side in these languages, beside the words of the vocabulary, without accents.
_SIDES = {
    phrase: side
    for side, called in {
        "external": "außen, aussen, extérieur, extérieure, externe, esterno, esterna, exterior, externo, externa, zewnętrzne, zewnętrzny, "
        "zewnętrzna, vnější, utvändig, utvändigt",
        "internal": "innen, intérieur, intérieure, interne, interno, interna, interior, wewnętrzne, wewnętrzny, wewnętrzna, vnitřní, "
        "invändig, invändigt",
        "flat": "flach, eben, plan, plane, piano, piana, plano, plana, płaskie, płaski, płaska, rovinné, rovinný",
    }.items()
    for phrase in phrases(called)
}
_TEXT_WORDS = ("side", "designation", "infeed_basis", "load_kind", "decimal", "date")
# What a column may hold that a line may say for the whole trial.
STEADY_WORDS = ("infeed_rate", "wheel_speed", "wheel_rpm", "work_diameter", "wheel_diameter", "contact_width")
_LIKE = {"marked_wheel_speed": "wheel_speed", "nominal_rpm": "work_rpm", "idle": "idle_power"}
_LIKE.update({limit.name: limit.name.partition("_")[2] for limit in fields(Limits)})
ALSO_GIVEN_AS = {"wheel_speed": "wheel_rpm", "wheel_rpm": "wheel_speed"}
CELLS = "\t"  # parts the cells of a row where a file has no other sign between them
_LONGEST_LINE = 500  # signs; a longer one is a remark
_LINE = re.compile(r"#?\s*([^=:]*?)\s*[=:]\s*(.*)", re.DOTALL)
_SENTENCE = re.compile(r"#?\s*([^\d=:]*[^\d=:\s.,+-])\s+([+-]?[.,]?\d.*)", re.DOTALL)  # wheel diameter 200 mm
_NUMBER = re.compile(r"([+-]?[\d.,]*\d[\d.,' \u00a0\u2009\u202f\u2019]*(?:[eE][+-]?\d+)?)(.*)", re.DOTALL)
_PER = re.compile(r"([+-]?[\d.,]*\d)\s+(1\s?/\s?[a-z]+[²³]?)", re.IGNORECASE)  # 2100 1/min, 18 1/mm²
_MORE = re.compile(r"\s*[\d.,]+\s*(\S+)")  # 4 ft 2 in
_MENTIONS = re.compile(
    r"\b(?:radius|diam|diám|diâm|dia\b|durchmesser|rayon|raggio|radi[oe]n?\b|raio|średnic|promie|průměr|poloměr)|ø"
)
_NO_UNIT_BESIDE = ("as the readings", "µm, ISO 6106", "µm or ISO 6106", "% of nominal", "-")
_SIGNS = ("-", "%", '"', "''")
_NO_UNITS = ("in", "a", "m", "s", "h", "v", "w", "j", "n", "k", "min", "mil", "ore", "ora", "turn", "tour", "thou")  # words, too


_MARK = re.compile(
    r"(?:\b|n|v)(?:max|mark|maks|massim|hochst|zulassig|rated|allow|permi|nejvyss|dopuszcz|hogsta|tillat|dovolen|povolen)"
)
_OF_WHEEL = re.compile(
    r"speed|wheel|geschwindigkeit|drehzahl|scheibe|vitesse|meule|velocita|velocidad|mola|muela|rebolo|giri|rpm|predk|sciernic|obrot|rychlost|kotouc|otack|hastighet|skiv|varvtal|\b[nv] ?max|m s\b"
)


def may_be_mark(label: str) -> bool:
    """Whether a label that is not known may be that of the highest speed or rpm marked on the wheel."""
    said = words(label)
    return bool(_MARK.search(said)) and bool(_OF_WHEEL.search(said))


KNOWN = frozenset(part for phrase in _WORDS for part in phrase.split()) | HEADING_WORDS


class Words(NamedTuple):
    """Values by word, in the shop's units, and the name by which a message calls each."""

    values: dict[str, Any]
    shown: Callable[[str], str] = str
    written: dict[str, str] = {}  # as they stand in the file, with their unit

    def get(self, word: str) -> Any:
        """The value, None where it is absent or blank."""
        value = self.values.get(word)
        if isinstance(value, Unreadable):
            raise Refused(self.shown(word), "be a value", value.why)
        return None if is_blank(value) else value

    def number(self, word: str) -> float | None:
        """The number of a word, within its limits and what can be; None where it is absent."""
        value, quantity = self.get(word), quantity_of(word)
        if value is None or quantity is None:
            return None
        if isinstance(value, str) and looks_like_number(value):
            hint = "it is a text there: is its decimal sign the one of the spreadsheet?"
            raise Refused(self.shown(word), f"be a number, {quantity.requirement}", shown_value(value), hint=hint)
        return quantity.check_possible(quantity.check_one(value, self.shown(word)), self.shown(word))

    def choice(self, word: str, choices: tuple[str, ...], default: str | None = None) -> str | None:
        value = self.get(word)
        if value is None and (word not in self.values or default is None):
            return default
        said = value.strip().lower() if isinstance(value, str) else ""
        if said not in choices and basis_of(said) in choices:
            said = basis_of(said)
        if said not in choices:
            got = "blank" if value is None else repr(value)[:60]
            raise Refused(self.shown(word), f"be {' or '.join(choices)}", got)
        return said


class Line(NamedTuple):
    row: int
    value: Any
    unit: str = ""  # "" where none is stated
    basis: str = ""  # radius or diameter, where the label says so


class Lead(NamedTuple):
    """What stands above the headings: the words that are known, and the rows with a number that nothing was made of."""

    lines: dict[str, Line]
    unread: tuple[str, ...] = ()
    title: str = ""  # the first text that is neither a word that is known nor a number


def quantity_of(word: str) -> Quantity | None:
    """The vocabulary's word that a setup word is, or is like."""
    return QUANTITIES.get(_LIKE.get(word, word))


def leading_lines(rows: Iterable[Row], delimiter: str = CELLS) -> Lead:
    """Values by word, from rows such as `wheel diameter | 200 | mm` or `# wheel_diameter = 200 mm`.

    Rows that begin with no known word are titles and remarks; those with a number are given back as unread.
    """
    found: dict[str, Line] = {}
    unread, title = [], ""
    for row in (part for whole in rows for part in _one_label_each(whole)):
        word, heading, rest = _parts(row, delimiter)
        if word is None:
            first = row.cells[0] if row.cells else ""
            said = [str(cell) for cell in (first, *rest) if not isinstance(cell, Unreadable)]
            marked = len(str(first)) < _LONGEST_LINE and any(map(str.isdigit, "".join(said))) and may_be_mark(str(first))
            if any(map(_holds_number, [*rest, *_behind_words(row)])) or marked:
                unread.append(f"row {row.number} '{short(row.cells[0] if row.cells else '')}'")
            title = title or _title(row, delimiter)
            continue
        word, line = _line(row.number, word, heading, rest)
        if word in found:
            raise Refused(word, "be given once", f"it in rows {found[word].row} and {row.number}")
        found[word] = line
        more = [cell for cell in rest if _is_number(cell)][1:]
        if more:
            unread.append(f"row {row.number} {short(more[0])} behind '{short(row.cells[0])}'")
    return Lead(found, tuple(unread), title)


def _title(row: Row, delimiter: str) -> str:
    """The row as a line of text, "" where it begins with none."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    if not cells or not isinstance(cells[0], str) or _is_number(cells[0]):
        return ""
    between = {CELLS: " ", ",": ", "}.get(delimiter, delimiter)
    return one_line(between.join(str(cell).strip() for cell in cells if not isinstance(cell, Unreadable))).strip("# ")


def line_of(number: int, word: str, value: Any) -> tuple[str, Line]:
    """What a line says that gives a word one value, 200 or "200 mm"; a wheel speed in 1/min is another word."""
    return _line(number, word, _Label(), [value])


def _line(number: int, word: str, heading: _Label, rest: list[Any]) -> tuple[str, Line]:
    """Word, value, unit and basis of a line, from what its label says and the cells behind it."""
    if len(rest) > 1 and _is_symbol(word, rest[0]) and _is_number(rest[1]):  # label, symbol, value
        rest = rest[1:]
    if len(rest) > 1 and is_unit(rest[0]) and _is_number(rest[1]):  # the unit before the value
        rest = [rest[1], rest[0], *rest[2:]]
    value, *behind = rest if rest and not is_unit(rest[0]) else [None] + rest
    tail = shown = ""
    if isinstance(value, Measured):
        value, shown = value.shown, value.unit
    if isinstance(value, str) and word not in _TEXT_WORDS:
        value, tail = _split(word, value)
    behind = [cell for cell in behind if isinstance(cell, str)]
    basis, doubtful = heading.basis, heading.doubtful
    if word in ("infeed_rate", "lowest_infeed_rate", "highest_infeed_rate"):
        basis, doubtful, tail, *behind = _basis_beside(basis, [doubtful, tail, *behind])
        if word != "infeed_rate" and basis == "diameter":
            raise Refused(word, "be on the radius: half of what is on the diameter", quoted(value))
    unit = _unit_of(word, [heading.unit, tail, shown] + behind[:1], doubtful)
    if word in ALSO_GIVEN_AS and unit and ratio(unit, QUANTITIES[word].unit) is None:
        if ratio(unit, QUANTITIES[ALSO_GIVEN_AS[word]].unit) is not None:
            word = ALSO_GIVEN_AS[word]  # a wheel speed in rpm
    return word, Line(number, value, unit, basis)


def _one_label_each(row: Row) -> list[Row]:
    """The row in parts that each begin with a label of the setup: wheel diameter | 200 | mm | work diameter | 20 | mm."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    first = next((place for place, cell in enumerate(cells) if isinstance(cell, str) and word_of(cell)[0]), None)
    if first != 0:
        return [row]
    starts = [0] + [place for place, cell in enumerate(cells) if place > 1 and _is_label(cell)] + [len(cells)]
    return [row._replace(cells=cells[start:end]) for start, end in zip(starts, starts[1:])]


def _is_label(cell: Any) -> bool:
    return isinstance(cell, str) and not is_unit(cell) and word_of(cell)[0] is not None


def _is_symbol(word: str, cell: Any) -> bool:
    """Whether a cell is the symbol of a word, or a sign between label and value."""
    quantity = quantity_of(word)
    return isinstance(cell, str) and (cell.strip() in ("=", ":") or bool(quantity) and words(cell) == words(quantity.symbol))


def _basis_beside(basis: str, texts: list[str]) -> list[str]:
    """The basis of an infeed rate that its label or a text beside its value says, and these texts without the words for it."""
    left = []
    for text in texts:
        rest, said = without_basis(re.sub(r"[(\[{](.*?)[)\]}]", r", \1", text))
        if basis_of(text):
            rest, said = "", basis_of(text)
        elif not said and _MENTIONS.search(plain(text)):
            must = "say radius or diameter in plain words, such as 'on diameter'"
            raise Refused("infeed_rate", must, quoted(text), hint="or give a line infeed_basis")
        if said and basis and said != basis:
            raise Refused("infeed_rate", "be on the radius or on the diameter", f"{basis} and {said}")
        basis = basis or said
        left.append(rest if said else text)
    return [basis, *left]


def _is_number(cell: Any) -> bool:
    return looks_like_number(cell) if isinstance(cell, str) else finite_in(cell) is not None


def _holds_number(cell: Any) -> bool:
    """Whether it is a number, or a text of one with its unit."""
    if not isinstance(cell, str) or looks_like_number(cell):
        return _is_number(cell)
    _, behind = _number_in_front(cell) or ("", "")
    return is_unit(behind) or is_unit(behind.partition(" ")[0].rstrip(",;"))


def _number_in_front(text: str) -> tuple[str, str] | None:
    """The number with which a text begins, as it is written, and what stands behind it; None for a text that begins with none."""
    match = _PER.fullmatch(text.strip()) or _NUMBER.fullmatch(text.strip())
    return (match[1].strip(), match[2].strip()) if match else None


def number_and_unit(text: str) -> tuple[str, str] | None:
    """The number and the unit that are all of a text such as "2,05 kW"; None for any other."""
    number, unit = _number_in_front(text) or ("", "")
    return (number, unit) if is_unit(unit) and looks_like_number(number) else None


def _behind_words(row: Row) -> list[str]:
    """What stands behind the words of a row's first text; a number alone, as in "Trial 7", belongs to them."""
    text = next((cell for cell in row.cells if not is_blank(cell)), None)
    sentence = _SENTENCE.fullmatch(text.strip()) if isinstance(text, str) and len(text) <= _LONGEST_LINE else None
    return [] if sentence is None or _is_number(sentence.group(2)) else [sentence.group(2)]


class _Label(NamedTuple):
    unit: str = ""
    basis: str = ""
    doubtful: str = ""


def is_line(row: Row) -> bool:
    """Whether a row is one of the setup's."""
    return _parts(row, CELLS)[0] is not None


def _parts(row: Row, delimiter: str) -> tuple[str | None, _Label, list[Any]]:
    """Word, what else its label says, and the cells behind it; without a word the cells that stand for its value."""
    cells = [cell for cell in row.cells if not is_blank(cell)]
    if not cells or not isinstance(cells[0], str):
        return None, _Label(), cells[1:]
    if len(cells) > 1:
        word, heading = word_of(cells[0])
        if word is not None:
            return word, heading, cells[1:]
    text = delimiter.join(map(str, cells)).strip()
    if len(text) > _LONGEST_LINE:
        return None, _Label(), cells[1:]
    joined = _LINE.fullmatch(text)
    if joined is not None:
        word, heading = word_of(joined.group(1))
        return word, heading, _apart(joined.group(2), delimiter) or [None]  # label: value; unit
    if any(map(_is_number, cells[1:])):
        return None, _Label(), cells[1:]
    sentence = _SENTENCE.fullmatch(text)
    word, heading = word_of(sentence.group(1)) if sentence else (None, _Label())
    if word is not None:
        return word, heading, _apart(sentence.group(2), delimiter)
    word, heading = word_of(text) if len(cells) == 1 else (None, _Label())
    return word, heading, cells[1:]


def _apart(text: str, delimiter: str) -> list[Any]:
    return [part.strip() for part in text.split(delimiter) if part.strip()]


def word_of(label: str) -> tuple[str | None, _Label]:
    """The word that a label names, with the unit and the basis that it states."""
    if len(label) > _LONGEST_LINE:
        return None, _Label()
    label = label.strip().lstrip("# ").rstrip(" :=")
    for text in (label, re.sub("^in[_ ]", "", label, flags=re.IGNORECASE)):
        if words(text) in _WORDS and not re.search(r"[(\[{%\"]", text):
            word = _WORDS[words(text)]
            return word, _Label(basis=without_basis(text)[1] if word == "infeed_rate" else "")
        heading = read_heading(text)
        phrase = re.sub("^in ", "", heading.phrase)
        if phrase in _WORDS and _WORDS[phrase] != "idle":
            return _WORDS[phrase], _Label(heading.unit, heading.basis, heading.doubtful)
        if heads_idle(text, heading.phrase, heading.unit, heading.doubtful) and not _states_value(text):
            return "idle", _Label(heading.unit, "", heading.doubtful)
    return None, _Label()


def _states_value(text: str) -> bool:
    """Whether a text is more than a label: idle = 0.86, idle 0.86 kW."""
    sentence = _SENTENCE.fullmatch(text)
    return _LINE.fullmatch(text) is not None or sentence is not None and number_and_unit(sentence[2]) is not None


def column_line(heading: str) -> tuple[str, str, str]:
    """The setup word that heads a column, "" for none, with its unit and basis."""
    word, label = word_of(heading)
    if word is None or word not in STEADY_WORDS:
        return "", "", ""
    if word in ALSO_GIVEN_AS and label.unit and ratio(label.unit, QUANTITIES[ALSO_GIVEN_AS[word]].unit) is not None:
        word = ALSO_GIVEN_AS[word]
    basis, doubtful = label.basis, label.doubtful
    if word == "infeed_rate":
        basis, doubtful = _basis_beside(basis, [doubtful])
    return word, _unit_of(word, [label.unit], doubtful), basis


def _split(word: str, text: str) -> tuple[str, str]:
    """'200 mm' and '15µm/s' in two; a text that is no number with something behind it stays whole.

    Refused where what stands behind makes another number of it: 13¾ in, 7/8, 4 ft 2 in, 400 now 350.
    """
    text = text.strip()
    number, behind = _number_in_front(text) or (text, "")
    if not behind or word == "grit_size" and not is_unit(behind):  # 120/140
        return text, ""
    unit = _first_unit(word, behind)
    more = _MORE.match(behind[len(unit) :]) if unit else None
    if not unit and any(sign.isnumeric() for sign in behind) or more and is_unit(more[1]):
        raise Refused(word, "be one number with its unit", quoted(text), hint="a remark stands one column further")
    return number, behind


def _unit_of(word: str, stated: list[str], doubtful: str = "") -> str:
    """The unit that label, value and the cell behind it state, "" for none; Refused for one that is unknown or for two."""
    stated = [text.strip() for text in stated if text.strip()]
    if word in _TEXT_WORDS:
        return ""
    known = [unit for unit in (_first_unit(word, text) for text in stated) if unit]
    multiple = doubtful if states_factor(doubtful) else next(filter(_TIMES.search, stated), "")
    if multiple:
        own = _own_unit(word)
        raise Refused(word, f"be one number{f' in {own}' if own else ''}, without a factor", quoted(multiple))
    if len({parse(text) for text in known}) > 1:
        raise Refused(word, "have one unit", " and ".join(quoted(text) for text in known[:2]))
    if known:
        return known[0]
    if word == "concentration":
        share = next((text for text in stated + [doubtful] if _SHARE.search(plain(text))), "")
        if share:
            raise Refused(word, _CONCENTRATION, quoted(share))
    own = _own_unit(word)
    for text in stated + [doubtful] if own else []:
        if _may_be_unit(text):
            raise Refused(word, f"be in {own}", quoted(text), hint="a remark stands one column further")
    return ""


_TIMES = re.compile(r"^\S+ ?[x×*] ?\d")  # mm x 2
_TOLERANCE = re.compile(r"±\s?[\d.,]+(?:\s?[^\W\d]+)?")  # 20 mm (±0.01 mm)
_SHARE = re.compile(r"%|\bvol|\bct\b|\bcts\b|carat|karat")
_CONCENTRATION = "be the number of a concentration without a unit, 100 for 25 % by volume"


def _own_unit(word: str) -> str:
    """What a value of this word is used in, "" where it has no unit."""
    quantity = quantity_of(word)
    own = {"noise": "%", "idle": "the unit of the readings"}.get(word) or (quantity.unit if quantity else "-")
    return "" if own == "-" else own


def unit_beside(word: str, text: str, name: str) -> str:
    """The unit that stands beside the cell of a word; a refusal calls the cell by `name`."""
    try:
        return _unit_of(word, [text] if text not in _NO_UNIT_BESIDE else [])
    except Refused as refused:
        raise refused.named(name) from None


def _first_unit(word: str, text: str) -> str:
    """The unit that the text is or begins with, "" where it does neither; Refused for "in stock", which may be an inch."""
    if is_unit(text):
        return text
    first, _, rest = text.partition(" ")
    unit = first.rstrip(",;")
    if unit == text or not is_unit(unit):
        return ""
    if plain(unit) not in _NO_UNITS:
        return unit
    quantity = quantity_of(word)
    if quantity is None or ratio(unit, quantity.unit) is None:
        return ""
    if unit == first and rest.lstrip()[:1] not in tuple("([{=,;/"):
        raise Refused(word, f"be in {quantity.unit}", quoted(text), hint="a remark stands one column further")
    return unit


def _may_be_unit(text: str) -> bool:
    """Whether a text beside a value may be meant as a unit that is not known here; other texts are remarks."""
    text = _TOLERANCE.sub("", text)
    letters = any(sign.isalpha() for sign in text)
    return letters and (
        " " not in text
        and len(text) <= 20
        or bool(re.search(r"[^\W\d]\s?[/·*]\s?[^\W\d]|\b(?:per|pro)\b", text))
        or states_factor(text)
        or any(is_unit(part) and plain(part) not in _NO_UNITS and part not in _SIGNS for part in re.split(r"[\s,;()\[\]]+", text))
    )


def in_shop_units(lines: dict[str, Line], shown: Callable[[str], str] = str) -> tuple[Words, list[str]]:
    """The values in the shop's units, and a sentence for each that was written in another; `idle` stays as it is."""
    values = {word: line.value for word, line in lines.items()}
    told = []
    for word in sorted(lines, key="nominal_rpm".__ne__):  # the one that another may need comes first
        line = lines[word]
        quantity, name = quantity_of(word), shown(word)
        if word == "date" and isinstance(line.value, Unreadable) and line.value.day:
            values[word] = line.value.day
        if not line.unit or word == "idle" or word in _TEXT_WORDS or is_blank(line.value):
            continue
        if word == "concentration" and line.unit.strip() != "-":
            raise Refused(name, _CONCENTRATION, repr(line.unit))
        if word == "noise":
            values[word] = _as_percent(name, line)
            continue
        if quantity is None or isinstance(line.value, Unreadable):
            continue
        turns = None
        if word == "infeed_rate" and (parse(line.unit) or parse("mm")).is_per_turn:
            turns = Words(values, shown).number("nominal_rpm")
            if turns is None:
                must = f"be in {quantity.unit}: for each revolution it changes with the work rpm"
                hint = "give nominal_rpm too, if it is kept at what it is there"
                raise Refused(name, must, repr(f"{line.value} {line.unit}"), hint=hint)
        values[word] = quantity.converted(line.value, line.unit, name, turns)
        if values[word] != line.value:
            label = QUANTITIES[word].label.partition(" on the ")[0] if word in QUANTITIES else word.replace("_", " ")
            used = f"{line.value:.9g} {line.unit} is used as {values[word]:.9g}{_unit_behind(quantity)}."
            told.append(f"{label[0].upper()}{label[1:]} {used}")
    if isinstance(values.get("side"), str):
        values["side"] = side_word(values["side"])
    _put_basis(lines, values, shown)
    designated = designated_concentration(values.get("concentration", ""))
    if designated is not None:
        values["concentration"] = designated
    return Words(values, shown, {word: _as_written(line) for word, line in lines.items() if not is_blank(line.value)}), told


def designated_concentration(value: Any) -> float | None:
    """The number of a concentration such as C100; None for anything else."""
    number = re.fullmatch(r"[ckCK]\s?(\d{2,3})", str(value).strip())
    return float(number[1]) if number else None


def _as_written(line: Line) -> str:
    """What the file says, in one line."""
    value = line.value.why if isinstance(line.value, Unreadable) else line.value
    number = finite_in(value)
    unit = "" if line.unit.strip() == "-" else short(line.unit)
    said = f"{one_line(value, 60) if number is None else f'{number:.10g}'} {unit}".strip()
    return f"{said} on the {line.basis}" if line.basis else said


def _unit_behind(quantity: Quantity) -> str:
    return "" if quantity.unit == "-" else f" {quantity.unit}"


def _as_percent(name: str, line: Line) -> Any:
    factor = ratio(line.unit, "%")
    if factor is None:
        raise Refused(name, "be in %", quoted(line.unit))
    number = finite_in(line.value)
    return line.value if number is None else float(number * factor)


def _put_basis(lines: dict[str, Line], values: dict[str, Any], shown: Callable[[str], str]) -> None:
    """The basis that the label of the infeed rate states, unless a word of its own contradicts it."""
    basis = lines["infeed_rate"].basis if "infeed_rate" in lines else ""
    if not basis:
        return
    said = Words(values, shown).choice("infeed_basis", BASES)
    if said is not None and said != basis:
        raise Refused(shown("infeed_basis"), f"be {basis}, as the label of {shown('infeed_rate')} says", said)
    values["infeed_basis"] = basis


def limits_from(given: Words) -> Limits:
    """What is said of the machine's limits."""
    return Limits(**{limit.name: given.number(limit.name) for limit in fields(Limits)})


def unusual(given: Words) -> list[str]:
    """A sentence for each value outside of what is usual, and one for an infeed rate on the diameter."""
    found = []
    for word in QUANTITY_WORDS + ("marked_wheel_speed", "nominal_rpm", "highest_power"):
        quantity, number = quantity_of(word), finite_in(given.values.get(word))
        if quantity is not None and number is not None and not quantity.is_usual(number):
            odd = f"Check {given.shown(word)}: {number:.6g}{_unit_behind(quantity)}, usual is {quantity.usual_range}."
            found.append(Check(odd))
    rate = finite_in(given.values.get("infeed_rate"))
    if rate is not None and given.choice("infeed_basis", BASES, "radius") == "diameter":
        found.append(f"Infeed rate {rate:.9g} mm/min on the diameter is used as {rate / 2:.9g} mm/min on the radius.")
    return found


def side_word(text: str) -> str:
    """The vocabulary's word for a side, or the text as it is."""
    return _SIDES.get(words(text), text)


def side_number(value: Any, shown: str = "side") -> Any:
    """1, 0 or -1 for the words external, flat and internal; numbers are given back as they are."""
    if not isinstance(value, str):
        return value
    word = value.strip().lower()
    if word in ("+1", "1", "0", "-1"):  # a number that was typed as a text
        return int(word)
    if word not in SIDE_WORDS:
        raise Refused(shown, "be external, flat, internal or 1, 0, -1", shown_value(value))
    return SIDE_WORDS[word]


def setup_from(given: Words) -> tuple[dict[str, Any], list[str]]:
    """The values of a setup, with the words that are missing from it; ValueError for a value out of its limits."""
    values = {word: given.number(word) for word in SETUP_WORDS if word not in ("side", "wheel_speed", "grit_density")}
    side = given.get("side")
    if side is not None:
        values["side"] = QUANTITIES["side"].check_one(side_number(side, given.shown("side")), given.shown("side"))
    values["wheel_speed"] = _wheel_speed(given, values["wheel_diameter"])
    values["grit_density"] = _grit_density(given)
    if given.choice("infeed_basis", BASES, "radius") == "diameter" and values["infeed_rate"]:
        values["infeed_rate"] /= 2
    missing = [word for word in SETUP_WORDS if word != "contact_width" and values.get(word) is None]
    if {"wheel_diameter", "wheel_speed"} <= set(missing) and given.get("wheel_rpm") is not None:
        missing.remove("wheel_speed")  # it will follow from the rpm
    return values, missing


def _wheel_speed(given: Words, wheel_diameter: float | None) -> float | None:
    speed, rpm = given.number("wheel_speed"), given.number("wheel_rpm")
    if rpm is not None and wheel_diameter is not None:
        from_rpm = catalogue["wheel_speed"].call(wheel_diameter, rpm)
        if speed is not None and not math.isclose(speed, from_rpm, rel_tol=SPEED_AGREEMENT):
            got = f"{speed:g} m/s, and {from_rpm:.4g} m/s from {rpm:g} 1/min"
            raise Refused(given.shown("wheel_speed"), f"agree with {given.shown('wheel_rpm')} within 1 %", got)
        speed = from_rpm if speed is None else speed
        fastest = max(speed, from_rpm)
    else:
        fastest = speed
    check_marked(given, fastest)
    return speed


def check_marked(given: Words, fastest: float | None) -> None:
    """Refused where the wheel [m/s] is faster than the speed that the file says is marked on it."""
    marked = given.number("marked_wheel_speed")
    if marked is not None and fastest is not None and fastest > marked:
        never = "never run a wheel above the speed marked on it"
        must = f"be <= {given.shown('marked_wheel_speed')}, {marked:g} m/s: {never}"
        raise Refused(given.shown("wheel_speed"), must, f"{fastest:.6g} m/s")


def _grit_density(given: Words) -> float | None:
    density = given.number("grit_density")
    if density is not None:
        return density
    size = _grit_size(given)
    concentration, fraction = given.number("concentration"), given.number("active_fraction")
    if None in (size, concentration, fraction):
        return None
    return catalogue["grit_density"].call(size, concentration, fraction)


def _grit_size(given: Words) -> float | None:
    for word in ("grit_size", "designation"):
        value = given.get(word)
        if word == "designation" and value is not None or isinstance(value, str):
            try:
                return catalogue["mean_grit_size"].call(value)
            except Refused as refused:
                label = given.shown(word)
                raise (refused.named(label) if word == "designation" else refused.at(label)) from None
        if value is not None:
            return given.number(word)
    return None
