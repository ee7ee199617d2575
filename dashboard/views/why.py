"""Why we think so: each session against the other karts, the other karts' own shifts, checks and choices."""

from typing import TYPE_CHECKING, Any

import streamlit as st

from dashboard import first_look, hands, own_units, state
from dashboard.launch import wait_until_ready
from dashboard.on_the_page import for_page, mark_told
from dashboard.plain import plain
from dashboard.says import count, mark, say
from dashboard.shown import bullets, pictures_two_by_two, table, with_range

if TYPE_CHECKING:
    from lapdelta import Finding

_PASSED = {True: "passed", False: "failed", None: "not_possible"}
#: Choices that leave one kart or one session out: many, and much alike.
_LEFT_OUT = ("kart left out", "session left out")
_SIGN = {True: ":material/check:", False: ":material/close:", None: ":material/remove:"}


def show() -> None:
    """The page."""
    st.title(mark("page.why"), anchor=False)
    finding = state.finding()
    if finding is None:
        st.write(mark("why.empty"))
        state.page_link("help", say("ask_first"))
        return
    from lapdelta.sheet.sentences import headline

    shown = own_units.finding_shown(finding)
    st.markdown(f"**{plain(headline(shown, state.language()))}**")
    first_look.count_of_season(finding)
    _pictures(shown)
    _checks(shown)
    _choices(shown)
    _differences(shown)
    _laps(shown)
    hands.by_hand(finding)
    _repeat(finding)
    state.page_link("driver", say("page.driver"))


def _pictures(finding: "Finding") -> None:
    """Sessions, the other karts' own shifts, sectors, quick and slow laps, single laps: two by two on a laptop."""
    wait_until_ready("pictures")
    from lapdelta.pictures.placebo import placebo
    from lapdelta.pictures.quantiles import quantile_shift
    from lapdelta.pictures.sectors import sectors
    from lapdelta.pictures.sessions import sessions
    from lapdelta.pictures.single_laps import single_laps

    look: dict[str, Any] = {"dark": state.dark(), "language": state.language()}
    makers: list[tuple[str, Any]] = [("sessions", lambda: sessions(finding, **look))]
    if finding.placebo:
        makers.append(("other-karts", lambda: placebo(finding, names=True, **look)))
    if finding.sectors:
        makers.append(("sectors", lambda: sectors(finding, **look)))
    if finding.quantiles:
        makers.append(("quick-and-slow", lambda: quantile_shift(finding, **look)))
    laps = state.archive().laps(finding.settings["event"])
    makers.append(("single-laps", lambda: single_laps(laps, finding, **look)))
    pictures_two_by_two(makers, finding)


def _checks(finding: "Finding") -> None:
    """Each check with a word: what was not passed first, what was passed to open; then the reasons."""
    if not finding.checks:
        return
    lines: dict[bool | None, list[str]] = {False: [], None: [], True: []}
    for _, passed, sentence in finding.checks:
        lines[passed].append(_check(passed, sentence))
    # Without an answer most checks have nothing to check: that is said once, by the answer itself.
    told = finding.verdict != "cannot be told"
    folded = {True: "why.passed"} if told else {None: "why.not_possible", True: "why.passed"}
    st.header(mark("why.checks"), anchor=False)
    if open_lines := [line for passed in lines if passed not in folded for line in lines[passed]]:
        st.markdown("\n".join(open_lines))
    for passed, title in folded.items():
        if lines[passed]:
            with st.expander(count(title, len(lines[passed])), icon=_SIGN[passed]):
                st.markdown("\n".join(lines[passed]))
    checked = {sentence for *_, sentence in finding.checks}
    bullets(say("why.reasons"), [for_page(reason) for reason in finding.reasons if reason not in checked])


def _check(passed: bool | None, sentence: str) -> str:
    return f"- **{mark(f'check.{_PASSED[passed]}')}**: {mark_told(sentence)}"


def _choices(finding: "Finding") -> None:
    """How the answer moves when a choice is changed; one kart or session left out at a time to open."""
    if finding.choices and all(row["verdict"] == "cannot be told" for row in finding.choices):
        bullets(say("why.choices"), [say("why.choices.none")])
        return
    rows = [(row["choice"], _choice(finding, row)) for row in finding.choices]
    table(say("why.choices"), [row for choice, row in rows if choice not in _LEFT_OUT])
    left_out = [row for choice, row in rows if choice in _LEFT_OUT]
    if left_out:
        with st.expander(mark("why.left_out")):
            table(say("why.left_out"), left_out)


def _choice(finding: "Finding", row: dict[str, Any]) -> dict[str, Any]:
    from lapdelta.words import unit_text, verdict_text

    return {
        say("why.choice"): for_page(": ".join(filter(None, (row["choice"], row["setting"])))),
        say("why.change", unit=unit_text(finding.measure, state.language())): with_range(row),
        say("why.verdict"): verdict_text(row["verdict"], state.language()),
    }


def _differences(finding: "Finding") -> None:
    """What else differs on the setup sheet."""
    rows = [
        {
            say("why.item"): own_units.label(row["item"]),
            say("why.old"): row["before"],
            say("why.new"): row["after"],
        }
        for row in finding.setup_differences
    ]
    table(say("why.differences"), rows)


def _laps(finding: "Finding") -> None:
    """Laps of our kart by session: how many, how many used, why the others were not."""
    settings = {"before": say("why.old"), "after": say("why.new"), "other setup": say("why.other")}
    rows: list[dict[str, Any]] = [
        {
            say("why.session"): one["session"],
            say("why.setting"): settings.get(one["setting"], "–"),
            say("why.used"): say("why.used_of", used=one["kept"], laps=one["laps"]),
            say("why.not_used"): ", ".join(
                f"{n} {for_page(reason)}" for reason, n in one["set_aside"].items()
            )
            or "–",
        }
        for one in finding.cells
        if one["ours"]
    ]
    with st.expander(mark("why.our_laps")):
        table(say("why.our_laps"), rows, heading=False)


def _repeat(finding: "Finding") -> None:
    """All that is needed to repeat the answer, and the answer itself for machines."""
    with st.expander(mark("why.repeat")):
        told = finding.verdict != "cannot be told"
        st.markdown(
            (f"{mark('why.method', method=finding.method)}  \n" if told else "")
            + mark("why.data", data=finding.fingerprint)
        )
        st.json(finding.settings, expanded=False)
        st.download_button(
            mark("why.save"), finding.to_json(), "finding.json", "application/json", on_click="ignore"
        )
