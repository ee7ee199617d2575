"""Numbers as they are said: decimals and units by measure, faster or slower, higher or lower."""

from typing import Final, Literal

from lapdelta.words.catalogue import LANGUAGES, phrase

Kind = Literal["lap", "sector", "speed", "rpm"]

#: A top speed to be said in mph: its measure's name in a finding made for the screen (sheet.own_units).
SPEED_IN_MPH: Final = "top_speed_mph"

#: Decimals shown: timing prints thousandths, an interval of a typical day is tenths; speeds come whole.
_DECIMALS: Final[dict[Kind, int]] = {"lap": 2, "sector": 2, "speed": 1, "rpm": 0}


#: Whole laps, but only some of the session's: said like a stretch, drawn on the scale of a lap.
PARTS_OF_A_SESSION: Final = ("early_laps", "late_laps")


def measure_name(measure: str, language: str = "en") -> str:
    """The measure as named in a sentence: "lap time", "sector 2", "top speed"."""
    kind = measure_kind(measure)
    return sector_label(measure, language) if kind == "sector" else phrase(f"measure.{kind}", language)


def measure_kind(measure: str) -> Kind:
    """What a measure's name stands for; anything that is not known counts as a time of a stretch."""
    if measure == "lap_time":
        return "lap"
    if measure in ("top_speed", SPEED_IN_MPH):
        return "speed"
    return "rpm" if measure == "peak_rpm" else "sector"


def unit_text(measure: str, language: str = "en") -> str:
    """The unit as printed: s, km/h, mph, rpm."""
    if measure == SPEED_IN_MPH:
        return "mph"
    return phrase(f"unit.{measure_kind(measure)}", language)


def number_text(measure: str, value: float, language: str = "en") -> str:
    """The size of a number without sign and unit.

    A size that would round to nothing gets one more decimal, so that "between 0.00 and 0.98 s" does
    not hide that zero is left out.
    """
    decimals = _DECIMALS[measure_kind(measure)]
    text = f"{abs(value):.{decimals}f}"
    if float(text) == 0.0 and value != 0.0:
        text = f"{abs(value):.{decimals + 1}f}"
    return text.replace(".", phrase("number.decimal_mark", language))


def amount(measure: str, value: float, language: str = "en") -> str:
    """Size and unit without sign: "0.61 s"."""
    return f"{number_text(measure, value, language)} {unit_text(measure, language)}"


def direction(measure: str, value: float, language: str = "en") -> str:
    """The comparative that belongs to the sign: faster / slower for times, lower / higher for the rest."""
    family = "time" if measure_kind(measure) in ("lap", "sector") else "more"
    return phrase(f"direction.{family}.{'minus' if value < 0 else 'plus'}", language)


def sector_label(measure: str, language: str = "en") -> str:
    """A stretch of the lap as named: "sector 2", "the part of the lap outside the sectors"."""
    if measure in PARTS_OF_A_SESSION:
        return phrase(f"measure.{measure}", language)
    prefix, _, number = measure.rpartition("_")
    if prefix == "sector" and number.isdigit():
        return phrase("sector.numbered", language, n=int(number))
    return phrase("sector.rest", language)


def side_text(measure: str, value: float, language: str = "en") -> str:
    """A change with its direction: "0.50 s a lap faster", "1.2 km/h higher"."""
    size, way = amount(measure, value, language), direction(measure, value, language)
    return phrase(f"side.{measure_kind(measure)}", language, size=size, direction=way)


#: A verdict's key in the catalogue.
VERDICT_KEYS: Final = {
    "faster": "faster",
    "slower": "slower",
    "no worthwhile difference": "none",
    "not settled": "open",
    "cannot be told": "unknown",
}


def verdict_text(verdict: str, language: str = "en") -> str:
    """The verdict on its own, as for times."""
    return phrase(f"verdict.{VERDICT_KEYS[verdict]}", language)


def factor_name(factor: str, language: str = "en") -> str:
    """The setting whose response is drawn, as it stands on an axis."""
    key = f"factor.{factor}"
    return phrase(key, language) if key in LANGUAGES[language] else factor.replace("_", " ")


def factor_unit_text(unit: str, language: str = "en", case: str = "") -> str:
    """The unit of a setting: teeth and laps are words, the others signs; ``case``: ``.dative`` after "at"."""
    keys = (f"unit.{unit}{case}", f"unit.{unit}")
    return next((phrase(key, language) for key in keys if key in LANGUAGES[language]), unit)


def in_digits(number: str, language: str = "en") -> str:
    """A number already set in digits, with the decimal mark of the language."""
    return number.replace(".", phrase("number.decimal_mark", language))
