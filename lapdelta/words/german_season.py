"""German: the texts of the pictures of a season. Same rules as ``english``."""

from typing import Final

TEXTS: Final[dict[str, str]] = {
    "unit.teeth": "Zähne",
    "unit.teeth.dative": "Zähnen",
    "unit.laps": "Runden",
    "factor.axle_teeth": "Kettenrad auf der Achse",
    "factor.pressure_rear": "Druck hinten",
    "factor.pressure_front": "Druck vorn",
    "factor.total_weight_kg": "Gesamtgewicht",
    # the response curve
    "curve.note": (
        "Punkte: unsere Fahrten, ohne das, was die anderen Karts, der Tag und unser eigener Fortschritt "
        "ausmachen. Band: dort liegt die ganze Kurve, 19 von 20 Malen. Gestrichelt: weiter als erprobt."
    ),
    "curve.x": "{factor}, {unit}",
    "curve.y": "gegen {reference} {unit}, {measured_in} ({sign})",
    "curve.sign.time": "minus = schneller",
    "curve.sign.more": "plus = höher",
    "curve.alt": "Linienbild mit {n} Punkten, unseren Fahrten: {place}. {title}.",
    "curve.all": "alle Tage",
    "curve.unnamed": "Tage ohne Strecke",
    "curve.found": "{place}: am besten bei {best} {at}, wahrscheinlich {low} bis {high}",
    "curve.above": "{place}: das Beste liegt über allem, was erprobt wurde",
    "curve.below": "{place}: das Beste liegt unter allem, was erprobt wurde",
    "curve.from": "{place}: das Beste liegt bei {low} {at} oder mehr",
    "curve.to": "{place}: das Beste liegt bei {high} {at} oder weniger",
    "curve.flat": "{place}: kein lohnender Unterschied zwischen dem, was erprobt wurde",
    "curve.open": "{place}: was am besten ist, lässt sich noch nicht sagen",
    # parts of the box
    "parts.laps.one": "{n} Runde",
    "parts.laps.many": "{n} Runden",
    "parts.km": "{laps}, {km} km",
    "parts.km.more": "{laps}, {km} km oder mehr",
    "parts.retired": "Nur Umriss: ausgemustert.",
    "parts.engine_sprocket": "Motor {size}",
    "parts.axle_sprocket": "Achse {size}",
    "parts.chain": "Kette {size}",
    "parts.laps.title": "Am weitesten gelaufen ist {part}: {ran}",
    "parts.laps.axis": "gelaufene Runden",
    "parts.laps.note": "Alle Runden mit dem Teil, auch Ausfahr- und Einfahrrunden: sie verschleißen ebenso.",
    "parts.cost.title": "Am teuersten ist {part}: bisher {cost} für hundert Runden",
    "parts.cost.axis": "Kosten von hundert Runden",
    "parts.cost.note": "Preis durch bisher gelaufene Runden, in der Währung der Preise: er sinkt mit jeder Runde.",
    "parts.alt": "Balken von {n} Teilen. {title}. {listed}.",
    # day by day
    "days.one": "{event} {low} auf {high}",
    "days.many": "{n} Tage {low} auf {high}",
    "days.title": "{settled} von {n} Tagen klären ihren Umbau für sich allein",
    "days.title.only_yes": "Der eine Tag klärt seinen Umbau für sich allein",
    "days.title.only_no": "Der eine Tag klärt seinen Umbau nicht für sich allein",
    "days.note": "Kreis: ein Tag gegen die anderen Karts.",
    "days.note.many": "Raute: derselbe Umbau an mehreren Tagen zusammen.",
    "days.alt": "Punkte mit Bereichen, {n} Tage. {title}.",
    # how well a kart repeats itself
    "repeat.axis": "von Fahrt zu Fahrt, {unit}",
    "repeat.ours": "unser Kart",
    "repeat.others": "die anderen Karts",
    "repeat.title": "Ohne Umbau unterscheiden sich unsere Fahrten um {size}",
    "repeat.title.beside": "Ohne Umbau unterscheiden sich unsere Fahrten um {size}, die der anderen um {others}",
    "repeat.title.none": "Wie gut unser Kart sich wiederholt, lässt sich nicht sagen",
    "repeat.note": (
        "Wie weit das Tempo einer Fahrt typischerweise von dem der nächsten abweicht, mit der Streuung der "
        "Runden: benachbarte Fahrten ohne Umbau."
    ),
    "repeat.alt": "Punkte nach Tagen, {n} Tage. {title}.",
}
