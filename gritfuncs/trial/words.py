"""The words of setup values: what shops call each, in many languages, and what a word stands for."""

from __future__ import annotations

import re
from dataclasses import fields
from typing import Any

from ..formulas import catalogue
from ..planning import Limits
from ..quantities import QUANTITIES, SIDE_WORDS
from ..quantity import Quantity
from ..refused import Refused
from ..values import shown as shown_value
from .headings import HEADING_WORDS, phrases, words

# What the depth follows from beside the work rpm, and the width by which power becomes energy.
SETUP_WORDS = tuple(quantity.name for quantity in catalogue["plunge_grit_depth"].arguments if quantity.name != "work_rpm") + (
    "contact_width",
)
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
WORD_CALLED = {words(name.replace("_", " ")): name for name in QUANTITY_WORDS + OTHER_WORDS}
WORD_CALLED.update({words(QUANTITIES[name].label): name for name in QUANTITY_WORDS})
WORD_CALLED.update({phrase: name for name, called in _CALLED.items() for phrase in phrases(called)})
KNOWN = frozenset(part for phrase in WORD_CALLED for part in phrase.split()) | HEADING_WORDS
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
TEXT_WORDS = ("side", "designation", "infeed_basis", "load_kind", "decimal", "date")
# What a column may hold that a line may say for the whole trial.
STEADY_WORDS = ("infeed_rate", "wheel_speed", "wheel_rpm", "work_diameter", "wheel_diameter", "contact_width")
_LIKE = {"marked_wheel_speed": "wheel_speed", "nominal_rpm": "work_rpm", "idle": "idle_power"}
_LIKE.update({limit.name: limit.name.partition("_")[2] for limit in fields(Limits)})
ALSO_GIVEN_AS = {"wheel_speed": "wheel_rpm", "wheel_rpm": "wheel_speed"}
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


def quantity_of(word: str) -> Quantity | None:
    """The vocabulary's word that a setup word is, or is like."""
    return QUANTITIES.get(_LIKE.get(word, word))


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
