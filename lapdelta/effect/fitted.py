"""Items of a setup sheet in a sentence: what was fitted, what is only a condition, and plain words for both."""

from collections.abc import Sequence

#: Conditions, not settings: they differ from session to session whatever is done to the kart.
CONDITIONS = frozenset({"tyre_laps", "track_state", "air_temperature_c", "track_temperature_c", "notes"})
_UNITS = ("_bar", "_kg", "_mm", "_c")


def in_words(items: Sequence[str]) -> str:
    """``axle teeth, front left pressure``: column names as plain words."""
    return ", ".join(_word(item) for item in items)


def _word(item: str) -> str:
    for unit in _UNITS:
        item = item.removesuffix(unit)
    if item.startswith("pressure_"):
        item = f"{item.removeprefix('pressure_')} pressure"
    return item.replace("_", " ")


def say_differences(items: Sequence[str], bundle: bool) -> tuple[bool | None, str]:
    """Whether the change is one change (None: nothing fitted differs), and the sentence."""
    fitted = [item for item in items if item not in CONDITIONS]
    around = in_words([item for item in items if item in CONDITIONS])
    if not items:
        return None, "The setup sheet names no difference between before and after."
    if not fitted:
        return None, f"Nothing fitted differs on the setup sheet, only what is around it: {around}."
    names = in_words(fitted)
    also = f" Beside it differ: {around}." if around else ""
    if bundle:
        return False, f"More than one thing differs ({names}): the answer is about all of it together.{also}"
    if len(fitted) > 1:
        return True, f"What differs on the setup sheet belongs together as one change: {names}.{also}"
    return True, f"Only one thing that is fitted differs on the setup sheet: {names}.{also}"
