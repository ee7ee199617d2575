"""What the library says, in the language of the page and for somebody who is on a page, not at the command line."""

import re
from typing import Final

from dashboard.plain import plain
from dashboard.says import say, told

#: Command -> short name of the page that does the same.
_PAGE_OF: Final = {
    "import": "bring", "history": "bring", "undo": "bring", "setup": "fitted", "events": "help",
    "sessions": "help", "compare": "help", "question": "help", "parts": "gearing", "gearing": "gearing",
    "plan": "next", "next": "next", "season": "season", "share": "driver",
}  # fmt: skip
_COMMAND: Final = re.compile(
    rf"(?:,? (?:with|mit):?|:)? lapdelta ({'|'.join(_PAGE_OF)})\b.*?(?=, (?:or|oder)\b|;|\.(?:\s|$)|$)",
    re.DOTALL,
)
_CHECK: Final = re.compile(
    r"Run lapdelta check on (?:the|that) archive|lapdelta check auf (?:das|jenes) Archiv laufen lassen"
)
#: An option of the command line, with what stands around it.
_OPTION: Final = re.compile(r" (?:with|mit) --[a-z-]+(?:, o(?:r|der)\b)?")


def for_page(sentence: str) -> str:
    """A sentence of the library in the page's language, with a page in place of a command."""
    said = _OPTION.sub("", told(sentence))
    said = _CHECK.sub(lambda _: say("on_the_page.check", page=say("page.bring")), said)
    return _COMMAND.sub(lambda found: say("on_the_page", page=say(f"page.{_PAGE_OF[found[1]]}")), said)


def mark_told(sentence: str) -> str:
    """As ``for_page``, for places that read Markdown."""
    return plain(for_page(sentence))
