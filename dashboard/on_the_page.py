"""What the library tells to do at the command line, said for somebody who is on a page; in either language."""

import re
from typing import Final

from dashboard.says import say

#: Command -> short name of the page that does the same.
_PAGE_OF: Final = {
    "import": "bring", "history": "bring", "undo": "bring", "setup": "fitted", "events": "help",
    "sessions": "help", "compare": "help", "question": "help", "parts": "gearing", "gearing": "gearing",
    "plan": "next", "next": "next", "season": "season", "share": "driver",
}  # fmt: skip
_COMMAND: Final = re.compile(
    rf"(?:,? (?:with|mit):?|:)? lapdelta ({'|'.join(_PAGE_OF)})\b.*?(?=, o(?:r|der)\b|;|\.(?:\s|$)|$)",
    re.DOTALL,
)
_OPTION: Final = re.compile(r" (?:with|mit) --[a-z-]+(?:, o(?:r|der)\b)?")


def for_page(sentence: str) -> str:
    """The sentence with a page in place of a command; options of the command line are left out."""
    sentence = _OPTION.sub("", sentence)
    return _COMMAND.sub(lambda found: say("on_the_page", page=say(f"page.{_PAGE_OF[found[1]]}")), sentence)
