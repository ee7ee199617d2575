"""A finding in plain sentences, said the same on screen, on paper and in the terminal."""

import re
from typing import Final

from lapdelta.effect.finding import Finding
from lapdelta.sheet.advice import never_measured, what_now
from lapdelta.sheet.subject import other_items, subject, subject_is_sprocket
from lapdelta.words import (
    TWENTY,
    amount,
    direction,
    dots_below,
    in_language,
    in_twenty,
    join,
    measure_kind,
    measure_name,
    moved_as_much,
    moved_phrase,
    number_text,
    number_word,
    phrase,
    plural,
    probability_word,
    sector_label,
    side_text,
    verdict_text,
)

_CLEAR: Final = ("faster", "slower")


def headline(finding: Finding, language: str = "en") -> str:
    """One sentence that answers the question."""
    kind = measure_kind(finding.measure)
    who = subject(finding, language)
    place = phrase(f"place.{kind}", language, place=sector_label(finding.measure, language))
    if finding.verdict == "cannot be told" or finding.estimate is None:
        return phrase("headline.unknown", language, subject=who, place=place)
    if finding.verdict in _CLEAR:
        return _clear(finding, who, language)
    key = "none" if finding.verdict == "no worthwhile difference" else "open"
    low, high = interval_sides(finding, language)
    return phrase(f"headline.{key}", language, subject=who, place=place, low=low, high=high)


def say(finding: Finding, language: str = "en") -> list[str]:
    """The headline, how sure, what to keep in mind, and what to do now; never empty, no sentence is."""
    return [
        headline(finding, language),
        *how_sure(finding, language),
        *keep_in_mind(finding, language),
        *what_now(finding, language),
    ]


def verdict_word(finding: Finding, language: str = "en") -> str:
    """The verdict on its own; higher / lower for speed and engine speed."""
    if finding.verdict in _CLEAR and measure_kind(finding.measure) in ("speed", "rpm"):
        return direction(finding.measure, finding.estimate or 0.0, language)
    return verdict_text(finding.verdict, language)


def how_sure(
    finding: Finding, language: str = "en", *, show_names: bool = True, under_title: bool = False
) -> list[str]:
    """The chances as a word with its number, and what the range means; the reason if nothing can be told.

    ``under_title``: a title above says already that these are reasons.
    """
    if finding.verdict == "cannot be told" and never_measured(finding):
        name = measure_name(finding.measure, language)
        return [phrase("say.unknown.no_measure", language, measure=name)]
    if finding.verdict == "cannot be told":
        said = [_reason(finding, text, language, show_names) for text in finding.reasons if text.strip()]
        if under_title:
            return said
        # the first is why, the others are what would help
        return [phrase("say.unknown.reason", language, reason=said[0]), *said[1:]] if said else []
    sentences = [*_chances(finding, language), _range_meaning(finding, language)]
    margin = amount(finding.measure, finding.margin, language)
    if finding.verdict == "not settled":
        if finding.smallest_margin is not None:
            smallest = amount(finding.measure, finding.smallest_margin, language)
            sentences.append(phrase("say.open.smallest", language, smallest=smallest))
        if finding.half_width is not None:
            width = amount(finding.measure, finding.half_width, language)
            sentences.append(phrase("say.open.margin", language, margin=margin, width=width))
    if finding.verdict == "no worthwhile difference":
        sentences.append(phrase("say.none.margin", language, margin=margin))
    return sentences


def keep_in_mind(
    finding: Finding, language: str = "en", *, season: tuple[int, int] | None = None, counted: bool = False
) -> list[str]:
    """What stands beside the answer: flags, other karts that moved as much, the driver's own progress.

    ``season``: which question of its season this is, and the season; then that is said with every answer.
    ``counted``: that is said elsewhere, and luck with it.
    """
    margin = amount(finding.measure, finding.margin, language)
    sentences: list[str] = []
    for flag in finding.flags:
        if flag == "bundle":
            sentences.append(_bundle(finding, language))
        elif flag == "own_progress" and finding.tipping_rate:
            sentences.append(_tipping(finding, finding.tipping_rate, language))
        else:
            sentences.append(phrase(f"flag.{flag}", language, margin=margin))
    if season is not None:
        number, year = season
        sentences.append(phrase("say.season", language, n=number, season=year))
    if finding.verdict == "cannot be told":
        return sentences
    moved, others = moved_as_much(finding.placebo, finding.estimate)
    if others:
        sentences.append(moved_phrase("say.placebo", moved, others, language))
    if finding.verdict in _CLEAR and season is None and not counted:
        count = round(TWENTY * (1.0 - finding.confidence))
        if count >= 1:
            sentences.append(phrase("say.false_calls", language, count=number_word(count, language)))
    return sentences


def for_the_driver(finding: Finding, language: str = "en") -> list[str]:
    """Two sentences for a ten-year-old."""
    kind = measure_kind(finding.measure)
    if finding.verdict == "cannot be told" or finding.estimate is None:
        return [phrase("driver.unknown", language), phrase("driver.try", language)]
    first = _driver_first(finding, kind, language)
    if finding.verdict == "no worthwhile difference":
        return [first, phrase("driver.choose", language)] if kind == "lap" else [first]
    if "less_than_worthwhile" in finding.flags:
        margin = amount(finding.measure, finding.margin, language)
        return [first, phrase("driver.small", language, margin=margin)]
    chance = finding.chance_better
    if chance is None:
        return [first, phrase("driver.try", language)] if finding.verdict == "not settled" else [first]
    towards = -1.0 if kind in ("lap", "sector") else 1.0
    better = dots_below(chance)
    count, sign = (better, towards) if better >= TWENTY - better else (TWENTY - better, -towards)
    return [
        first,
        phrase("driver.dots", language, n=count, direction=direction(finding.measure, sign, language)),
    ]


def interval_sides(finding: Finding, language: str = "en") -> tuple[str, str]:
    """Both ends of the interval with their direction: "0.50 s a lap faster", "0.20 s a lap slower"."""
    low, high = (side_text(finding.measure, value or 0.0, language) for value in (finding.low, finding.high))
    return low, high


def masked(text: str, finding: Finding, language: str = "en") -> str:
    """A text of the core with the numbers of other karts taken out, for a page that leaves the house."""
    another = phrase("page.another_kart", language)
    for kart in {str(cell["kart"]) for cell in finding.cells if not cell["ours"]}:
        text = re.sub(rf"\bkart {re.escape(kart)}(?!\w)", another, text)
    return text


def _reason(finding: Finding, text: str, language: str, show_names: bool) -> str:
    """A reason of the core as a sentence in the language, without numbers of other karts if it is to be shared."""
    return in_language(_sentence(text if show_names else masked(text, finding, language)), language)


def _clear(finding: Finding, who: str, language: str) -> str:
    """The headline of an answer whose interval leaves out zero."""
    measure, estimate = finding.measure, finding.estimate or 0.0
    ends = sorted((finding.low or 0.0, finding.high or 0.0), key=abs)
    return phrase(
        f"headline.clear.{measure_kind(measure)}",
        language,
        subject=who,
        size=amount(measure, estimate, language),
        direction=direction(measure, estimate, language),
        place=sector_label(measure, language),
        bare=number_text(measure, estimate, language),
        near=number_text(measure, ends[0], language),
        far_bare=number_text(measure, ends[1], language),
        far=amount(measure, ends[1], language),
    )


def _chances(finding: Finding, language: str) -> list[str]:
    """Chance of having moved towards better, and by more than the margin; the likelier side is said."""
    if finding.chance_better is None:
        return []
    towards = -1.0 if measure_kind(finding.measure) in ("lap", "sector") else 1.0
    better, worth = finding.chance_better, finding.chance_worthwhile
    if better < 0.5:
        better, worth, towards = 1.0 - better, None, -towards
    values = {"direction": direction(finding.measure, towards, language)}
    sentences = [_chance("say.chance.better", better, values, language)]
    if worth is not None:
        values["margin"] = amount(finding.measure, finding.margin, language)
        sentences.append(_chance("say.chance.worthwhile", worth, values, language))
    return sentences


def _chance(key: str, probability: float, values: dict[str, str], language: str) -> str:
    word, number = probability_word(probability, language), in_twenty(probability, language)
    return phrase(key, language, word=word, number=number, **values)


def _range_meaning(finding: Finding, language: str) -> str:
    """How often a range of this confidence misses, in the denominator that is used everywhere."""
    count = round(TWENTY * (1.0 - finding.confidence))
    misses = phrase("say.misses.none", language) if count < 1 else plural("say.misses", count, language)
    key = "say.range" if finding.verdict == "not settled" else "say.probably"
    return phrase(key, language, misses=misses)


def _bundle(finding: Finding, language: str) -> str:
    """That more than one thing changed: what else beside a sprocket, which the subject names, or all of it."""
    items, said = other_items(finding, language), subject_is_sprocket(finding)
    if len(items) < (1 if said else 2):
        return phrase("flag.bundle.bare", language)
    return phrase("flag.bundle" if said else "flag.bundle.all", language, items=join(items, language))


def _tipping(finding: Finding, rate: float, language: str) -> str:
    """The own progress that alone would explain the answer; an hour with a clock, else a session."""
    clock = any(cell["ours"] and cell.get("time_h") is not None for cell in finding.cells)
    return phrase(
        "say.tipping.hour" if clock else "say.tipping.session",
        language,
        size=amount(finding.measure, rate, language),
        direction=direction(finding.measure, rate, language),
    )


def _driver_first(finding: Finding, kind: str, language: str) -> str:
    estimate = finding.estimate or 0.0
    measure = measure_name(finding.measure, language)
    if finding.verdict == "not settled":
        return phrase("driver.open", language)
    if finding.verdict == "no worthwhile difference":
        more = "driver.none" if kind in ("lap", "sector") else "driver.none.more"
        return phrase(more, language, measure=measure)
    size, way = amount(finding.measure, estimate, language), direction(finding.measure, estimate, language)
    if kind == "lap":
        return phrase(f"driver.{finding.verdict}", language, size=size)
    if kind == "sector":
        return phrase("driver.moved.sector", language, size=size, direction=way, place=measure)
    return phrase("driver.moved.more", language, size=size, direction=way, measure=measure)


def _sentence(text: str) -> str:
    """A reason as the rest of a sentence: no space around it, one full stop."""
    return text.strip().rstrip(".") + "."
