"""What was changed, as the subject of a sentence: from the setup sheet, else from the session lists."""

import re
from typing import Any, Final

from lapdelta.effect.finding import Finding
from lapdelta.setups.compared import by_axle
from lapdelta.words import LANGUAGES, in_digits, join, number_word, phrase, plural
from lapdelta.words.printing import capital

#: Items of the setup sheet that are said as teeth, the axle first.
_SPROCKETS: Final = ("axle_teeth", "engine_teeth")
#: Not changes that anybody made: the day's conditions, wear, and free text (which may hold a name).
_NOT_CHANGES: Final = ("notes", "track_state", "air_temperature_c", "track_temperature_c", "tyre_laps")
_NUMBER: Final = re.compile(r"-?\d+(?:\.\d+)?")
#: Which part of the box was fitted: with its teeth or links it is one change, not another one.
_PARTS: Final = ("engine_part", "axle_part", "chain_part")


def subject(finding: Finding, language: str = "en") -> str:
    """The change in a few words: "Four teeth fewer on the axle", "P2 and P3 against P1 and P4"."""
    told = _changes(finding)
    teeth = [text for name in _SPROCKETS for item in told if (text := _teeth(item, name, language))]
    if teeth:
        text = teeth[0]
        if len(teeth) > 1:
            text = phrase("subject.both_sprockets", language, first=teeth[0], second=_lower_first(teeth[1]))
        others = len(told) - len(teeth)
        return plural("subject.with_others", others, language, subject=text) if others else text
    if len(told) == 1 and (text := _from_to(told[0], language)):
        return text
    after, before = join(finding.after, language), join(finding.before, language)
    return phrase("subject.sessions", language, after=after, before=before)


def subject_is_sprocket(finding: Finding) -> bool:
    """Whether teeth on a sprocket are what the subject names."""
    return any(_is_sprocket(item) for item in _changes(finding))


def other_items(finding: Finding, language: str = "en") -> list[str]:
    """What changed beside the sprockets of the subject, in lower case; all that changed where it names none."""
    told = [item["item"] for item in _changes(finding) if not _is_sprocket(item)]
    said = [item_name(name, language).split(",")[0] for name in told]
    return [_lower_first(name) for name in said] if phrase("list.nouns", language) == "small" else said


def _changes(finding: Finding) -> list[dict[str, Any]]:
    """What somebody changed, tyres of an axle that changed alike as one; which part of the box it was only where its
    teeth or links are not told.
    """
    told = [item for item in finding.setup_differences if item["item"] not in _NOT_CHANGES]
    gearing = {"axle_teeth", "engine_teeth", "chain_links"} & {item["item"] for item in told}
    return by_axle([item for item in told if not (gearing and _plain_item(item["item"]) in _PARTS)])


def changed_sprockets(finding: Finding) -> bool:
    """True if a sprocket differs, so that the cautions about chain and sprockets belong beside it."""
    return any(
        item["item"] in (*_SPROCKETS, "chain_links", "chain_pitch_mm") for item in finding.setup_differences
    )


def item_name(item: str, language: str = "en") -> str:
    """The setup item as printed; an item of the user's own keeps its own name."""
    name = _plain_item(item)
    key = f"item.{name if name in _PARTS else item}"
    if key in LANGUAGES[language]:
        return phrase(key, language)
    return name.replace("_", " ").strip() or phrase("item.other", language)


def _plain_item(item: str) -> str:
    """The item without the mark of the user's own entries."""
    return item.removeprefix("other:")


def _teeth(item: dict[str, Any], name: str, language: str) -> str | None:
    """Teeth more or fewer on a sprocket, if both sides hold one whole number."""
    if item["item"] != name:
        return None
    before, after = _one_whole(item["before"]), _one_whole(item["after"])
    if before is None or after is None or before == after:
        return None
    step = after - before
    way = "more" if step > 0 else "fewer"
    count = capital(number_word(abs(step), language))
    sprocket = phrase(f"sprocket.{name}", language)
    return plural(f"subject.teeth.{way}", abs(step), language, count=count, sprocket=sprocket)


def _is_sprocket(item: dict[str, Any]) -> bool:
    """Whether the item is said as teeth more or fewer."""
    return any(_teeth(item, name, "en") for name in _SPROCKETS)


def _from_to(item: dict[str, Any], language: str) -> str | None:
    """ "Rear left pressure, bar, from 0.62 to 0.60", if both sides hold one short value."""
    before, after = _values(item["before"]), _values(item["after"])
    if len(before) != 1 or len(after) != 1 or max(len(before[0]), len(after[0])) > 24:
        return None
    name = item_name(str(item["item"]), language)
    if "units" in item:  # in the user's unit (sheet.own_units)
        stored, own = item["units"]
        name = name.replace(f", {stored},", f", {own},")
    old, new = (
        in_digits(text, language) if _NUMBER.fullmatch(text) else text for text in (before[0], after[0])
    )
    return phrase("subject.from_to", language, item=name, before=old, after=new)


def _values(side: Any) -> list[str]:
    """One side of a difference as distinct texts; a missing value counts for nothing."""
    values: list[Any] = list(side) if isinstance(side, (list, tuple)) else [side]  # pyright: ignore[reportUnknownArgumentType] - came as JSON
    texts = [
        f"{value:g}" if isinstance(value, float) else str(value) for value in values if value is not None
    ]
    return list(dict.fromkeys(text for text in texts if text.strip()))


def _one_whole(side: Any) -> int | None:
    """The one whole number a side holds, else None."""
    values = _values(side)
    return int(values[0]) if len(values) == 1 and re.fullmatch(r"\d{1,3}", values[0]) else None


def _lower_first(text: str) -> str:
    return text[:1].lower() + text[1:]
