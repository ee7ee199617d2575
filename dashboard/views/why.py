"""Why we think so: each session against the other karts, the other karts' own shifts, checks and choices."""

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboard import state
from dashboard.plain import plain
from dashboard.views.did_it_help import picture

if TYPE_CHECKING:
    from lapdelta import Finding

_PASSED = {True: "passed", False: "failed", None: "not possible"}
_SETTINGS = {"before": "old", "after": "new"}
_SIGN = {True: ":material/check:", False: ":material/close:", None: ":material/remove:"}


def show() -> None:
    """The page."""
    st.title("Why we think so")
    finding = state.finding()
    if finding is None:
        st.write("Here stands what an answer rests on.")
        state.page_link("help", "First ask: did it help?")
        return
    from lapdelta.pictures.placebo import placebo
    from lapdelta.pictures.sessions import sessions
    from lapdelta.sheet.sentences import headline

    st.markdown(plain(headline(finding)))
    left, right = st.columns(2, gap="large")
    with left:
        picture(sessions(finding, dark=state.dark()))
    if finding.placebo:
        with right:
            picture(placebo(finding, dark=state.dark(), names=True))
    _checks(finding)
    _parts(finding)
    _choices(finding)
    _laps(finding)
    _repeat(finding)
    state.page_link("driver", "Show the driver")


def _checks(finding: "Finding") -> None:
    """Each check with a sign and a word."""
    if not finding.checks:
        return
    st.markdown("**Checks**")
    lines = [
        f"{_SIGN[passed]} {_PASSED[passed]}: {plain(sentence)}" for _, passed, sentence in finding.checks
    ]
    st.markdown("  \n".join(lines))
    if finding.reasons:
        st.markdown("**Reasons**\n\n" + "\n".join(f"- {plain(reason)}" for reason in finding.reasons))


def _parts(finding: "Finding") -> None:
    """The shift by sector and by quantile of the laps."""
    from lapdelta.words import measure_name, unit_text

    unit = unit_text(finding.measure)
    sectors = [_shift(measure_name(row["measure"]), row, unit) for row in finding.sectors]
    for shown, row in zip(sectors, finding.sectors, strict=True):
        shown["stands out"] = "yes" if row["named"] else ""
    _table("Where on the lap", sectors)
    quantiles = [_shift(f"{row['quantile']:.0%} of laps are quicker", row, unit) for row in finding.quantiles]
    _table("Quick laps and slow laps", quantiles)


def _choices(finding: "Finding") -> None:
    """How the answer moves when a choice is changed, and what else differs on the setup sheet."""
    from lapdelta.sheet.subject import item_name
    from lapdelta.words import unit_text

    unit = unit_text(finding.measure)
    choices = [
        _shift(f"{row['choice']} {row['setting']}".strip(), row, unit) | {"verdict": row["verdict"]}
        for row in finding.choices
    ]
    _table("If we had chosen otherwise", choices)
    differences = [
        {
            "what": item_name(row["item"]).rstrip(","),
            "old setting": row["before"],
            "new setting": row["after"],
        }
        for row in finding.setup_differences
    ]
    _table("What differs on the setup sheet", differences)


def _shift(name: str, row: dict[str, Any], unit: str) -> dict[str, Any]:
    """A row of a table of shifts."""
    return {"": name, f"change, {unit}": row["estimate"], "from": row["low"], "to": row["high"]}


def _laps(finding: "Finding") -> None:
    """Laps of our kart by session: how many, how many used, why the others were not."""
    rows: list[dict[str, Any]] = [
        {
            "session": cell["session"],
            "setting": _SETTINGS.get(cell["setting"], cell["setting"]),
            "laps": cell["laps"],
            "used": cell["kept"],
            "not used": ", ".join(f"{count} {reason}" for reason, count in cell["set_aside"].items()),
        }
        for cell in finding.cells
        if cell["ours"]
    ]
    _table("Laps of our kart", rows)


def _repeat(finding: "Finding") -> None:
    """All that is needed to repeat the answer, and the answer itself for machines."""
    with st.expander("To repeat it"):
        st.markdown(f"Method: {plain(finding.method)}  \nData: {plain(finding.fingerprint)}")
        st.json(finding.settings, expanded=False)
        st.download_button("Save the finding (JSON)", finding.to_json(), "finding.json", "application/json")


def _table(title: str, rows: list[dict[str, Any]]) -> None:
    """A small table under its title; lists are joined, numbers shown to two decimals."""
    if not rows:
        return
    st.markdown(f"**{title}**")
    shown = [{name: _cell(value) for name, value in row.items()} for row in rows]
    st.dataframe(pl.DataFrame(shown), hide_index=True, width="stretch")


def _cell(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        # Adding zero turns "-0.00" into "0.00".
        return f"{value:g}" if value == round(value, 2) else f"{round(value, 2) + 0.0:.2f}"
    if isinstance(value, (list, tuple)):
        return ", ".join(_cell(item) for item in value)
    return str(value)
