"""Our own card for errors: what was seen, where, and how to mend it; nothing typed is lost."""

import traceback
from types import TracebackType

import streamlit as st

import lapdelta
from dashboard.on_the_page import for_page
from dashboard.plain import plain
from dashboard.question import Question
from dashboard.says import mark
from lapdelta.errors import LapdeltaError


class error_card:  # noqa: N801 - used as ``with error_card():``
    """Show an exception of the page inside it as a card.

    Our own errors say what to do; any other is a defect of ours and comes with a report to save. What the
    runtime uses to stop or rerun a page is no ``Exception`` and passes.
    """

    def __enter__(self) -> None:
        """Nothing to prepare."""

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> bool:
        """Draw the card; True if the exception has been shown."""
        if isinstance(error, LapdeltaError):
            show_error(error)
            return True
        if isinstance(error, Exception):
            _show_defect(error)
            return True
        return False


def show_error(error: LapdeltaError) -> None:
    """The facts of one of our own errors, as the command line prints them."""
    place = f"**{plain(error.where)}**  \n" if error.where and not _of_the_program(error) else ""
    st.error(
        f"{place}{plain(_said(error.what))}  \n**{_what_to_do()}** {plain(_said(error.mend))}",
        icon=":material/error:",
    )


def _of_the_program(error: LapdeltaError) -> bool:
    """Whether the place is an option of the command line or a name in the code, which are none on a page."""
    from lapdelta.gearing import GearingError

    return isinstance(error, GearingError) or str(error.where).startswith("--")


def _said(sentence: str) -> str:
    # As with the heading: the page's own words need the archive.
    try:
        return for_page(sentence)
    except LapdeltaError:
        return sentence


def _what_to_do() -> str:
    # The archive may be what cannot be opened, and it holds the language chosen.
    try:
        return mark("what_to_do")
    except LapdeltaError:
        return "What to do:"


def _show_defect(error: Exception) -> None:
    """A defect: say so, keep what was typed, and offer the report for whoever mends it."""
    st.error(f"{mark('defect')}  \n**{mark('what_to_do')}** {mark('defect.mend')}", icon=":material/error:")
    report = f"lapdelta {lapdelta.__version__}\n\n{_state()}\n{''.join(traceback.format_exception(error))}"
    st.download_button(mark("defect.save"), report, file_name="lapdelta-report.txt", mime="text/plain")


def _state() -> str:
    """What was chosen and typed on the pages, a line each."""
    plainly = (str, int, float, bool, list, tuple, Question)
    shown = {str(name): value for name, value in st.session_state.items() if isinstance(value, plainly)}
    return "".join(f"{name}: {value}\n" for name, value in sorted(shown.items()))
