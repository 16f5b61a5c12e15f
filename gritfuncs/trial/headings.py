"""Column headings: which words head which column, in which unit, on the radius or on the diameter."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from functools import lru_cache
from typing import Any, NamedTuple

from ..units import is_unit, ratio

LOADS = ("power", "current", "load")
ROLES = ("work_rpm",) + LOADS + ("idle", "use", "note", "damage", "grit_depth", "specific_energy")
NUMBER_ROLES = ("work_rpm",) + LOADS + ("idle", "grit_depth", "specific_energy")
SHOWN_UNITS = {"work_rpm": "1/min", "power": "kW", "current": "A", "grit_depth": "µm", "specific_energy": "J/mm³"}


MOST_HEADINGS = 256  # columns in which a heading is looked for
LONGEST_HEADING = 100  # signs


def plain(text: Any) -> str:
    """Lower case, one form of every sign, single spaces."""
    text = unicodedata.normalize("NFKC", str(text)).casefold().replace("\u2212", "-").replace("\u2300", "ø")
    return " ".join(text.split())


def words(text: str) -> str:
    """Letters without their accents and digits only, in small letters, single spaces."""
    bare = "".join(sign for sign in unicodedata.normalize("NFKD", plain(text)) if not unicodedata.combining(sign))
    return " ".join(re.sub(r"[\W_]+", " ", bare).split())


def phrases(text: str) -> tuple[str, ...]:
    """The phrases of a list that commas part, as `words` writes them."""
    return tuple(words(part) for part in text.split(","))


# English, German, French, Italian, Spanish, Portuguese, Polish, Czech, Swedish.
PHRASES = {
    "work_rpm": phrases(
        "rpm, work rpm, workpiece rpm, part rpm, work speed of rotation, rotational speed, work rotational speed, "
        "work spindle rpm, work head rpm, workhead rpm, workpiece spindle rpm, workpiece drive rpm, work drive rpm, headstock rpm, "
        "speed, n w, nw, Drehzahl, Werkstückdrehzahl, Drehzahl Werkstück, Werkstückspindeldrehzahl, Drehzahl Werkstückspindel, "
        "Drehzahl Werkstückantrieb, "
        "vitesse de rotation, vitesse de rotation pièce, vitesse de rotation de la pièce, régime, régime pièce, "
        "giri, giri pezzo, numero di giri, velocità di rotazione, velocità di rotazione pezzo, "
        "rpm Werkstück, n Werkstück, velocidad de giro, velocidad de rotación, velocidad de giro de la pieza, "
        "velocidad de rotación de la pieza, revoluciones, "
        "rpm pieza, rpm de la pieza, rotação, rotação da peça, velocidade de rotação, velocidade de rotação da peça, rpm da peça, "
        "obroty, obroty przedmiotu, obroty przedmiotu obrabianego, prędkość obrotowa, prędkość obrotowa przedmiotu, "
        "otáčky, otáčky obrobku, varvtal, varvtal arbetsstycke, arbetsstyckets varvtal, arbetsstycke varvtal"
    ),
    "power": phrases(
        "power, spindle power, power reading, spindle power reading, wheel power, motor power, wheel spindle power, "
        "power draw, total power, power total, gross power, power gross, Gesamtleistung, Leistung gesamt, Leistung, Spindelleistung, Motorleistung, Wirkleistung, Leistung Spindel, Leistungsaufnahme, "
        "Wirkleistung Spindel, Spindelwirkleistung, puissance absorbée, puissance totale, potenza assorbita, potenza totale, "
        "puissance, puissance broche, puissance de broche, puissance de la broche, puissance moteur, "
        "potenza, potenza mandrino, potenza del mandrino, potenza motore, "
        "potencia, potencia husillo, potencia del husillo, potencia motor, potencia del motor, potencia absorbida, potencia consumida, "
        "potencia total, potência do fuso, potência do motor, potência absorvida, moc, moc wrzeciona, moc silnika, moc czynna, "
        "pobór mocy, moc całkowita, výkon, výkon vřetena, výkon motoru, příkon, příkon vřetena, příkon motoru, "
        "effekt, spindeleffekt, motoreffekt, total effekt"
    ),
    "current": phrases(
        "current, spindle current, motor current, line current, current reading, amps, ampere, amperes, spindle amps, "
        "motor amps, wheel amps, Strom, Spindelstrom, Motorstrom, Stromaufnahme, courant, courant broche, "
        "courant de broche, courant moteur, intensité, corrente, corrente mandrino, corrente del mandrino, corrente motore, "
        "corriente, corriente husillo, corriente del husillo, corriente motor, corriente del motor, corrente do fuso, corrente do motor, "
        "prąd, prąd wrzeciona, prąd silnika, pobór prądu, proud vřetena, proud motoru"
    ),
    "load": phrases(
        "load, load meter, load meter reading, load reading, spindle load, meter, meter reading, Last, Spindellast, "
        "Belastung, Auslastung, Spindelauslastung, charge, charge broche, charge de broche, charge de la broche, "
        "carico, carico mandrino, carico del mandrino, "
        "carga, carga husillo, carga del husillo, carga do fuso, obciążenie, obciążenie wrzeciona, zatížení, zatížení vřetena, "
        "belastning, spindelbelastning"
    ),
    "use": phrases("use, used, verwenden, verwendet, utiliser, utilisé, usare, usato, usar, usado, utilizar, utilizado"),
    "note": phrases(
        "note, notes, remark, remarks, comment, comments, Bemerkung, Bemerkungen, Notiz, Notizen, Anmerkung, "
        "remarque, remarques, commentaire, commentaires, nota, osservazione, osservazioni, "
        "observación, observaciones, comentario, comentarios, observação, observações, uwagi, uwaga, poznámka, poznámky, "
        "anmärkning, anmärkningar, kommentar, kommentarer"
    ),
    "grit_depth": phrases(
        "grit depth, h m, hm, undeformed chip thickness, maximum undeformed chip thickness, Spanungsdicke, "
        "maximale Spanungsdicke, épaisseur de copeau, épaisseur maximale de copeau, spessore del truciolo, spessore truciolo"
    ),
    "specific_energy": phrases(
        "specific energy, specific grinding energy, e c, spezifische Energie, spezifische Schleifenergie, "
        "énergie spécifique, energia specifica, "
        "energía específica, energia właściwa, měrná energie, specifik energi"
    ),
}
WITH_UNIT_ONLY = {  # too short or too wide to stand for the column without its unit
    "work_rpm": phrases(
        "work speed, workpiece speed, part speed, work, part, n, vitesse pièce, velocità pezzo, Werkstück, pièce, pezzo"
    )
    + ("",),
    "power": phrases("p, spindle, wheel spindle, motor, Spindel, broche, mandrino, husillo, fuso, wrzeciono, vřeteno") + ("",),
    "current": phrases("i, spindle, wheel spindle, motor, Spindel, broche, mandrino, husillo, fuso, wrzeciono, vřeteno") + ("",),
    "load": phrases(
        "spindle, power, spindle power, motor power, current, spindle current, Leistung, puissance, potenza, potencia, moc, výkon, effekt"
    )
    + ("",),
    "grit_depth": ("h",),
    "specific_energy": ("u", "energy", ""),
}
SYMBOLS = ("n w", "p", "i", "h m", "u", "e c")  # stand beside the words, or in brackets where others put the unit
_IDLE_WORDS = (
    r"(?:idle|idling|no load|noload|tare|tara|base load|baseload|base power|air cut(?:ting)?|air grinding|leer|leerlauf\w*|leerleistung"
    r"|[aà] vide|a vuoto|en vacio|em vazio|a vazio|sin carga|sem carga|bieg(?:u)? jałow(?:y|ego)|(?:na )?biegu jałowym"
    r"|jałow[yae]|(?:chodu? )?naprazdno|tomgang\w*|[pi] ?0)"
)
_IDLE = re.compile(rf"\b{_IDLE_WORDS}\b")
_INCLUDED = re.compile(rf"\b(?:incl\w*|inkl\w*|with|mit|avec|con|com|vcetne|med|plus) {_IDLE.pattern}")
_TAKEN_OFF = re.compile(
    r"\b(?:net|netto|nette|without|w o|ohne|sans|senza|less|minus|not|no idle|abzuglich|abzgl|removed|subtracted|deducted|corrected"
    r"|compensated|excl\w*|exkl\w*|escl\w*|hors|above|over|beyond|uber|oltre|rise|increase|delta|difference|grinding|ratio"
    r"|sin|sem|bez|utan|net[oa]|liquid[oa]|descontad[oa]|po odecteni|sobre|nad|ponad|minskad)\b"
)
# P - P0, P - P_idle, power - idle, P + P0, power / idle; but not P-idle
_WITH_IDLE = re.compile(
    rf"(?:\s[-–]|[-–]\s|[+/]|\b[pi][-–](?=[pi]_?0|[pi]_))\s?(?:[pi]_)?(?:{_IDLE_WORDS}|[pi]_0)\b|{_IDLE_WORDS}\s?[+]"
)
_NOT_OF_IDLE = re.compile(
    r"(?:speed|time|temp\w*|note|drehzahl|zeit|temperatur|vitesse|temps|velocita|tempo|giri|obroty|czas|otacky|cas|varvtal|tid|tiempo)\b"
)
_DAMAGE = re.compile(
    r"^brand$|\b(?:damage\w*|burn|burns|burnt|cracks?|schaden|schleifbrand|risse?|dommages?|degats?|brulures?|fissures?"
    r"|dann[oi]|bruciatur[ae]|cricc[ah]e?|danos?|quemad[oa]s?|quemaduras?|grietas?|queimas?|queimad[oa]s?|trincas?"
    r"|uszkodzeni[ea]|przypaleni[ea]|pekni(?:ecie|ecia)|poskozeni|spaleni|trhlin[ay]|skad(?:a|or)|brannskad(?:a|or)|sprick(?:a|or))\b"
)
_TIME = re.compile(
    r"(?:.* )?(?:time|timestamp|zeit|uhrzeit|zeitstempel|temps|heure|tempo|ora|tiempo|hora|czas|cas|tid)(?: .*)?|t"
)

_ON = r"(?:(?:measured|counted|bezogen|riferito) )?(?:on|in|at|per|auf|im|am|sur|au|sul|al|en|sobre|no|em|na|på)(?: (?:the|den|dem|le|il|el|o))? (?:(?:part|work|workpiece) )?"
_BASES = {
    basis: tuple(
        re.compile(form)
        for form in (
            rf"(?:{_ON})?(?:{noun})|{adjective}",  # alone
            rf"(?:[\s,]+{_ON}|,\s*)(?:{noun})$|\s{adjective}$",  # behind a label
            rf"^{adjective}\s",  # before a label
        )
    )
    for basis, noun, adjective in (
        (
            "diameter",
            r"diameter|diam\.?|dia\.?|ø|durchmesser|diamètre|diametre|di[aáâ]metro|średnic[aęy]|průměru?|diametern",
            r"diam[eé]tral\w*",
        ),
        ("radius", r"radius|rayon|raggio|radio|raio|promień|promieniu|poloměru?|radien", r"radial\w*"),
    )
}


_ALL_PHRASES = frozenset(phrase for known in PHRASES.values() for phrase in known)


class Heading(NamedTuple):
    phrase: str  # as `words` writes it
    unit: str  # as it stands there; "" where the heading names none
    basis: str = ""  # radius or diameter, where it says so
    doubtful: str = ""  # what stands in brackets and is neither unit nor symbol nor basis


# A multiple beside a unit, or in its place: x 100, 10 x, 1/10, 0.01, 10^3, tenths of mm.
_FACTOR = re.compile(
    r"[x×*·]\s?\d|\d\s?[x×*·]|\b1\s?[/⁄]\s?10|(?<![\d.,±])(?<!± )0[.,]0*1\b|\b10\s?[\^⁰¹²³⁴⁵⁶⁷⁸⁹⁻]"
    r"|\b(?:tenth|hundredth|thousandth|hundred|thousand|zehntel|hundertstel|tausendstel|dixieme|centieme|decimi|centesimi|millesimi)"
)


def states_factor(text: Any) -> bool:
    """Whether the words beside a number say that it counts more or less than once."""
    said = str(text).casefold()
    return bool(_FACTOR.search(said) or _FACTOR.search(words(said)))


def basis_of(text: Any) -> str:
    """Radius or diameter, in the words of a cell; "" where it is neither."""
    said = plain(text)
    return next((basis for basis, (alone, _, _) in _BASES.items() if alone.fullmatch(said)), "")


def without_basis(text: str) -> tuple[str, str]:
    """A label without the words that say radius or diameter at its end or beginning, and which."""
    said = plain(text)
    for basis, (_, behind, before) in _BASES.items():
        rest = before.sub("", behind.sub("", said))
        if rest != said and rest:
            return rest.strip(" ,"), basis
    return said, ""


def read_heading(text: Any) -> Heading:
    """The parts of a heading: 'Power P [kW]', 'power, kW', 'P / kW', 'power in kW', 'Power kW', 'kW', 'infeed (on dia)'."""
    text = " ".join(str(text).split())
    brackets = re.findall(r"[(\[{](.*?)[)\]}]+(?=$|[\s,:;])", text)
    unit = basis = doubtful = ""
    if brackets:
        text = re.sub(r"[(\[{].*?[)\]}]+(?=$|[\s,:;])", " ", text)
        for part in (_IN_FRONT.sub("", part.strip()) for content in brackets for part in re.split(r",(?!\d)|;", content)):
            if basis_of(part):
                basis = basis_of(part)
            elif is_unit(part):
                unit = unit or part
            elif words(part) not in SYMBOLS and words(part):
                doubtful = f"{doubtful}, {part}".strip(", ")
        if not unit and words(text) not in _ALL_PHRASES:  # infeed (on dia) ipm
            text, unit = _unit_behind(text.strip())
    elif re.search('[%"]', text) or words(text) not in _ALL_PHRASES:
        text, unit = _unit_behind(text)
    text, said = without_basis(text)
    if said and not unit:  # infeed, mm/min, on radius
        text, unit = _unit_behind(text)
    return Heading(_without_symbol(words(text)), unit, basis or said, doubtful)


def _unit_behind(text: str) -> tuple[str, str]:
    """A heading in two: its words and the unit behind them, the longest that is one."""
    if is_unit(text) and (len(text) > 1 or _stands_alone(text)):
        return "", text
    for match in re.finditer(r"[\s,/]+", text):
        for start in (match.end() - 1, match.end()):
            unit = text[start:]
            before = text[:start].rstrip(" ,/")
            if start < match.end() and unit.casefold() not in ("/min", "/s"):
                continue
            if is_unit(unit) and (len(unit) > 1 or _stands_alone(unit) or _IN.search(before)):
                return _IN.sub("", before), unit
    return text, ""


_IN = re.compile(r"\s(?:in|en)$", re.IGNORECASE)
_IN_FRONT = re.compile(r"^in (?=\S+$)", re.IGNORECASE)  # (in inches)


def _stands_alone(letter: str) -> bool:
    """Whether a single sign is a unit as units are written; in other letters it may be a symbol."""
    return letter in 'AVWJNmsh%"'


def _without_symbol(phrase: str) -> str:
    for symbol in SYMBOLS:
        if phrase.endswith(" " + symbol):
            return phrase[: -len(symbol) - 1]
    return phrase


@lru_cache(maxsize=20_000)  # a text file is looked at under three delimiters, and most of its cells are numbers
def role_of(text: str) -> tuple[str, str]:
    """The column that the heading names, or ""; and what is wrong where only its unit speaks against it."""
    if not _may_be_heading(text):
        return "", ""
    phrase, unit, _, doubtful = read_heading(text)
    if heads_idle(text, phrase, unit, doubtful):
        return "idle", ""
    unit = unit or doubtful
    for role in ROLES:
        known = phrase in PHRASES.get(role, ())
        if known and role == "load":
            return next((other for other in ("power", "current") if unit and fits(other, unit)), role), ""  # spindle load [hp]
        if known and (not unit or fits(role, unit)):
            return role, ""
        if unit and phrase in WITH_UNIT_ONLY.get(role, ()) and fits_well(role, unit):
            return role, ""
    known_roles = [role for role in ROLES if phrase in PHRASES.get(role, ())]
    if known_roles:
        return "", f"{known_roles[0]} must be in {SHOWN_UNITS[known_roles[0]]} (got heading {str(text).strip()!r:.60})"
    return ("damage", "") if _DAMAGE.search(phrase) else ("", "")


HEADING_WORDS = frozenset(
    word for known in (*PHRASES.values(), *WITH_UNIT_ONLY.values()) for phrase in known for word in phrase.split()
)


def _may_be_heading(text: str) -> bool:
    """Whether a text has a word of any heading, or is a unit; most cells of most files are neither, and read no further."""
    said = words(text)
    if not HEADING_WORDS.isdisjoint(said.split()) or _IDLE.search(said) or _DAMAGE.search(said):
        return True
    return is_unit(re.sub(r"^[(\[{](.*)[)\]}]$", r"\1", text.strip()).strip())


def heads_idle(text: str, phrase: str, unit: str, doubtful: str) -> bool:
    """Whether a heading is that of idle readings, and not of a load without them, their time or their rpm."""
    if not is_idle(phrase) and (not is_idle(words(doubtful)) or re.search("[1-9]", doubtful)):
        return False
    if _TAKEN_OFF.search(_IDLE.sub(" ", words(text))) or _WITH_IDLE.search(plain(text)) or _NOT_OF_IDLE.search(words(text)):
        return False
    return all(ratio(unit, other) is None for other in ("1/min", "s", "mm")) if unit else True


def is_idle(phrase: str) -> bool:
    """Whether the words mean the reading with the wheel off the work."""
    if not _IDLE.search(phrase) or _INCLUDED.search(phrase):
        return False
    return not _TAKEN_OFF.search(_IDLE.sub(" ", phrase))


def mentions_damage(text: str) -> bool:
    """Whether a note speaks of burn, a crack or breakdown."""
    return bool(_DAMAGE.search(words(text)))


def is_time(text: Any) -> bool:
    """Whether a heading means time."""
    if not isinstance(text, str) or len(text) >= LONGEST_HEADING:
        return False
    heading = read_heading(text)
    return bool(_TIME.fullmatch(heading.phrase or words(heading.unit)))  # heure and ora are units, too


def fits(role: str, unit: str) -> bool:
    """Whether a column of this kind may have this unit; a load meter, idle readings and the rest may have any."""
    return role not in SHOWN_UNITS or ratio(unit, SHOWN_UNITS[role]) is not None


def fits_well(role: str, unit: str) -> bool:
    """Whether the unit alone tells this kind of column."""
    return ratio(unit, SHOWN_UNITS.get(role, "%")) is not None and (role != "load" or unit.strip() != "-")


def roles_in(cells: Sequence[Any]) -> tuple[dict[str, list[int]], list[str]]:
    """Columns by the role their heading names, and what is wrong with headings that only their unit keeps out."""
    found: dict[str, list[int]] = {}
    doubts = []
    for column, cell in enumerate(cells[:MOST_HEADINGS]):
        if isinstance(cell, str) and len(cell) < LONGEST_HEADING and not cell.isspace() and cell:
            role, doubt = role_of(cell)
            if role:
                found.setdefault(role, []).append(column)
            elif doubt:
                doubts.append(doubt)
    return found, doubts
