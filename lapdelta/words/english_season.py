"""English: the texts of the pictures of a season. Same rules as ``english``."""

from typing import Final

TEXTS: Final[dict[str, str]] = {
    "unit.teeth": "teeth",
    "unit.teeth.dative": "teeth",
    "unit.laps": "laps",
    "factor.axle_teeth": "axle sprocket",
    "factor.pressure_rear": "rear pressure",
    "factor.pressure_front": "front pressure",
    "factor.total_weight_kg": "total weight",
    # the response curve
    "curve.note": (
        "Points: our sessions, net of the other karts, of the day's level and of our own progress. "
        "Band: where the whole curve lies, 19 times in 20. Broken line: beyond what was tried."
    ),
    "curve.x": "{factor}, {unit}",
    "curve.y": "against {reference} {unit}, {measured_in} ({sign})",
    "curve.sign.time": "minus = faster",
    "curve.sign.more": "plus = higher",
    "curve.alt": "Line chart with {n} points, our sessions at {place}. {title}.",
    "curve.all": "all days",
    "curve.unnamed": "days without a circuit",
    "curve.found": "{place}: best at {best} {at}, probably {low} to {high}",
    "curve.above": "{place}: the best lies above all that was tried",
    "curve.below": "{place}: the best lies below all that was tried",
    "curve.from": "{place}: the best is at {low} {at} or more",
    "curve.to": "{place}: the best is at {high} {at} or less",
    "curve.flat": "{place}: flat, nothing worth having between what was tried",
    "curve.open": "{place}: which is best cannot be told yet",
    # parts of the box
    "parts.laps.one": "{n} lap",
    "parts.laps.many": "{n} laps",
    "parts.km": "{laps}, {km} km",
    "parts.km.more": "{laps}, {km} km or more",
    "parts.retired": "Outlined: retired.",
    "parts.engine_sprocket": "engine {size}",
    "parts.axle_sprocket": "axle {size}",
    "parts.chain": "chain {size}",
    "parts.laps.title": "{part} has run the most: {ran}",
    "parts.laps.axis": "laps run",
    "parts.laps.note": "All laps with the part fitted, out laps and in laps too: they wear as well.",
    "parts.cost.title": "{part} costs the most: {cost} for a hundred laps so far",
    "parts.cost.axis": "cost of a hundred laps",
    "parts.cost.note": "Price over laps run so far, in the currency of the prices: it falls with every lap.",
    "parts.alt": "Bars of {n} parts. {title}. {listed}.",
    # day by day
    "days.one": "{event} {low} to {high}",
    "days.many": "{n} days {low} to {high}",
    "days.title": "{settled} of {n} days settle their change by themselves",
    "days.title.only_yes": "The one day settles its change by itself",
    "days.title.only_no": "The one day does not settle its change by itself",
    "days.note": "Circle: one day against the other karts.",
    "days.note.many": "Diamond: the same change on several days together.",
    "days.alt": "Points with intervals, {n} days. {title}.",
    # how well a kart repeats itself
    "repeat.axis": "session to session, {unit}",
    "repeat.ours": "our kart",
    "repeat.others": "the other karts",
    "repeat.title": "With nothing changed our sessions differ by {size}",
    "repeat.title.beside": "With nothing changed our sessions differ by {size}, the other karts' by {others}",
    "repeat.title.none": "How well our kart repeats itself cannot be told",
    "repeat.note": (
        "How far a session's pace typically lies from the next one's, lap scatter included: neighbouring "
        "sessions without a change."
    ),
    "repeat.alt": "Points by event, {n} events. {title}.",
}
