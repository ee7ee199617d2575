"""What stands on the shared page, as text and pictures, for both its forms (HTML, and one drawing)."""

from dataclasses import dataclass
from typing import Any

from lapdelta.effect.finding import Finding
from lapdelta.pictures.change_dots import change_dots
from lapdelta.pictures.sessions import sessions
from lapdelta.pictures.style import printable
from lapdelta.sheet.advice import what_now
from lapdelta.sheet.sentences import for_the_driver, headline, how_sure, keep_in_mind, verdict_word
from lapdelta.words import join, phrase
from lapdelta.words.printing import capital


@dataclass(frozen=True)
class PageContent:
    """The parts of the page from top to bottom; all texts are raw, each form escapes them."""

    title: str
    verdict: str
    headline: str
    driver: tuple[str, ...]
    pictures: tuple[Any, ...]
    sections: tuple[tuple[str, tuple[str, ...]], ...]
    facts: tuple[str, ...]

    @property
    def blocks(self) -> tuple[tuple[Any, ...], tuple[str, tuple[str, ...]], tuple[Any, ...]]:
        """Pictures above what to do now, that section itself, and the pictures below it.

        The sessions stand below: whoever looks for ten seconds needs the answer and what to do.
        """
        return self.pictures[:-1], self.sections[0], self.pictures[-1:]


def page_content(
    finding: Finding, *, nickname: str | None, show_names: bool, language: str, season: tuple[int, int] | None
) -> PageContent:
    """Gather the page. ``show_names`` lets the numbers of other karts through in the reasons.

    ``season``: which question of its season this is, and the season.
    """
    who = printable(nickname or phrase("page.kart", language, kart=finding.kart)).strip()
    how = how_sure(finding, language, show_names=show_names, under_title=True)
    sections = [
        (phrase("page.now", language), tuple(what_now(finding, language))),
        (phrase(sure_title(finding), language), tuple(how)),
        (phrase("page.watch", language), tuple(keep_in_mind(finding, language, season=season))),
    ]
    pictures = [] if finding.estimate is None else [change_dots(finding, language=language)]
    if any(cell["ours"] and cell["pace"] is not None for cell in finding.cells):
        pictures.append(sessions(finding, who=who, language=language))
    return PageContent(
        title=phrase("page.title", language, who=capital(who)),
        verdict=capital(verdict_word(finding, language)),
        headline=headline(finding, language),
        driver=tuple(for_the_driver(finding, language)),
        pictures=tuple(pictures),
        sections=tuple((title, lines) for title, lines in sections if lines),
        facts=tuple(_facts(finding, language)),
    )


def sure_title(finding: Finding) -> str:
    """Key of the title above how sure the answer is, or above why there is none."""
    return "page.why_not" if finding.verdict == "cannot be told" else "page.how_sure"


def _facts(finding: Finding, language: str) -> list[str]:
    """Which day, which laps, and what it takes to repeat the answer."""
    ours = [cell for cell in finding.cells if cell["ours"] and cell["setting"] in ("before", "after")]
    facts = [
        phrase(
            "page.laps",
            language,
            kept=sum(cell["kept"] for cell in ours),
            laps=sum(cell["laps"] for cell in ours),
            before=join(finding.before, language),
            after=join(finding.after, language),
        )
    ]
    if event := str(finding.settings.get("event") or "").strip():
        facts.insert(0, phrase("page.event", language, event=event))
    facts.append(
        phrase("page.repeat", language, version=finding.version, fingerprint=finding.fingerprint[:12])
    )
    return facts
