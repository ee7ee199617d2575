"""Every picture has a title, units and a text alternative; the shared page is small, closed, nameless."""

import re
import struct
from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import altair as alt
import findings_by_hand as by_hand
import polars as pl
import pytest
from sample_archive import make_archive

from lapdelta.effect.finding import Finding
from lapdelta.pictures.change_dots import change_dots, twenty_answers
from lapdelta.pictures.export import for_screen, inline_svg, to_html, to_png, to_svg
from lapdelta.pictures.placebo import other_letters, placebo
from lapdelta.pictures.quantiles import quantile_shift
from lapdelta.pictures.sectors import sectors
from lapdelta.pictures.sessions import session_rows, sessions
from lapdelta.pictures.single_laps import single_laps
from lapdelta.pictures.style import BLUE, VERMILLION, grey, ink, labels, round_steps, text_width_px, wrap
from lapdelta.question import compare
from lapdelta.sheet.page import page_html, page_pdf, page_png
from lapdelta.words import LANGUAGES, phrase

PICTURES = pytest.mark.parametrize(
    "draw", [change_dots, sessions, placebo, sectors, quantile_shift], ids=lambda draw: draw.__name__
)
EVERY = pytest.mark.parametrize("finding", by_hand.ALL.values(), ids=by_hand.ALL.keys())
FEW = pytest.mark.parametrize("name", ["faster", "not settled", "cannot be told"])
HOSTILE = "<img src=x onerror=alert(1)>\"'&\x00\x1b[31m\u202e{{7*7}}</svg><script>alert(2)</script>"
DARK_PAGE, LIGHT_PAGE = "#14171c", "#ffffff"


def layers(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return spec.get("layer", [spec])


@PICTURES
@EVERY
def test_title_units_and_text_alternative(draw: Any, finding: Finding) -> None:
    spec = draw(finding).to_dict()
    assert " ".join(spec["title"]["text"]).strip()
    assert spec["description"].strip()
    titles = {
        channel["axis"]["title"]
        for layer in layers(spec)
        for name, channel in layer["encoding"].items()
        if name in ("x", "y") and isinstance(channel.get("axis"), dict)
    }
    unit = {"s": ", s", "km/h": ", km/h", "1/min": ", 1/min"}[finding.unit]
    unit = ", s" if draw is sectors else unit  # where on the lap is a matter of times, whatever was asked
    assert any(unit in title for title in titles if title), titles
    assert "$schema" in spec
    assert "http" not in str({key: value for key, value in spec.items() if key != "$schema"})


@PICTURES
@pytest.mark.parametrize("dark", [False, True])
def test_only_the_two_colours_ink_and_grey_are_used(draw: Any, dark: bool) -> None:
    used = set(re.findall(r"#[0-9a-fA-F]{6}", str(draw(by_hand.SLOWER, dark=dark).to_dict())))
    assert used <= {BLUE, VERMILLION, ink(dark), grey(dark)}


def test_the_title_of_the_dots_counts_them() -> None:
    title = change_dots(by_hand.NOT_SETTLED).to_dict()["title"]["text"]
    minus = sum(value < 0 for value in twenty_answers(by_hand.NOT_SETTLED))
    assert " ".join(title) == f"{minus} of 20 equally likely answers say faster"
    assert minus == 16


def test_dots_stand_at_the_quantiles_of_the_t_distribution() -> None:
    # NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, critical values of t: 10 degrees of freedom,
    # 1.812 at .95 and 1.372 at .90 (from memory). The dots next to these levels must lie to either side.
    answers = twenty_answers(replace(by_hand.FASTER, estimate=0.0, standard_error=1.0, dof=10.0))
    assert len(answers) == 20
    assert answers[18] < 1.812 < answers[19]
    assert answers[17] < 1.372 < answers[18]
    assert sum(answers) == pytest.approx(0, abs=1e-12)


@EVERY
def test_bin_edges_lie_on_zero_and_on_the_margin(finding: Finding) -> None:
    if finding.estimate is None:
        return
    spec = change_dots(finding).to_dict()
    dots = next(layer for layer in layers(spec) if "shape" in layer["encoding"] and "x" in layer["encoding"])
    for row in dots["data"]["values"]:
        beyond = row["fill"] != "transparent"
        assert (abs(row["x"]) > finding.margin) == beyond
        assert row["x"] != 0
        # Blue is towards better: less time, more speed; of engine speed neither side is better.
        better = (row["x"] < 0) == (finding.unit == "s")
        assert row["stroke"] == (ink(False) if finding.unit == "1/min" else BLUE if better else VERMILLION)


def dot_rows(spec: dict[str, Any]) -> list[dict[str, Any]]:
    return next(
        layer["data"]["values"] for layer in layers(spec) if "level" in (layer["data"]["values"] or [{}])[0]
    )


def test_two_x_ranges_for_all_findings_of_a_measure_and_the_closer_is_said() -> None:
    def domain(finding: Finding) -> list[float]:
        spec = change_dots(finding).to_dict()
        return next(
            layer["encoding"]["x"]["scale"]["domain"]
            for layer in layers(spec)
            if "scale" in layer["encoding"].get("x", {})
        )

    lap = [by_hand.FASTER, by_hand.SLOWER, by_hand.NO_DIFFERENCE, by_hand.NOT_SETTLED, by_hand.LATE_LAPS]
    assert {tuple(domain(finding)) for finding in lap} <= {(-1.5, 1.5), (-0.5, 0.5)}
    for finding in lap:
        deepest = max(Counter(row["x"] for row in dot_rows(change_dots(finding).to_dict())).values())
        assert deepest <= 10, "a column that nobody can count"
        said = " ".join(change_dots(finding).to_dict()["title"]["subtitle"])
        assert ("Closer scale" in said) == (tuple(domain(finding)) == (-0.5, 0.5))
    assert tuple(domain(replace(by_hand.FASTER, estimate=-9.0, low=-9.5, high=-8.5))) == (-1.5, 1.5)


def test_far_answers_are_drawn_at_the_edge_and_counted() -> None:
    far = change_dots(replace(by_hand.FASTER, estimate=-9.0, low=-9.5, high=-8.5)).to_dict()
    assert "20 dots lie beyond the edge." in " ".join(far["title"]["subtitle"])


def test_our_sessions_step_away_from_the_track_by_the_change() -> None:
    words = {"before": "old", "after": "new", "other setup": "other"}
    ours, others, track = session_rows(by_hand.FASTER, words)
    level = {row["session"]: row["y"] for row in track}
    steps = {row["session"]: row["y"] - level[row["session"]] for row in ours}
    assert (steps["P1"] + steps["P4"]) / 2 == pytest.approx(0, abs=1e-9)
    assert (steps["P2"] + steps["P3"]) / 2 == pytest.approx(-0.6, abs=1e-9)
    assert len(others) == 4 * len(by_hand.OTHERS)


def test_many_karts_become_a_span_so_that_the_page_stays_small() -> None:
    karts = ("07", *(f"{number}" for number in range(100, 200)))
    big = replace(by_hand.FASTER, cells=by_hand.cells(karts))
    assert len(page_html(big).encode()) < 100_000


def test_other_karts_become_letters() -> None:
    assert other_letters(["9", "11", "11"]) == {"11": "A", "9": "B"}
    assert other_letters([f"{number:02}" for number in range(28)])["27"] == "AB"


def test_wrapped_lines_fit() -> None:
    lines = wrap("Kart 07 against the other karts " + "W" * 80, 200, 15)
    assert all(text_width_px(line, 15) <= 200 for line in lines)
    assert "".join("".join(lines).split()) == "Kart07againsttheotherkarts" + "W" * 80


@PICTURES
def test_exports_need_no_network_and_are_what_they_say(draw: Any) -> None:
    chart = draw(by_hand.FASTER)
    assert ElementTree.fromstring(to_svg(chart)).tag.endswith("svg")
    assert to_png(chart).startswith(b"\x89PNG")
    page = to_html(chart, "A <title>")
    assert len(page.encode()) < 100_000
    assert "http" not in page
    assert "<script" not in page
    assert "A &lt;title&gt;" in page


def test_ids_of_two_pictures_on_a_page_differ() -> None:
    chart = sessions(by_hand.FASTER)
    first, second = (set(re.findall(r'id="([^"]+)"', inline_svg(chart, prefix))) for prefix in ("a", "b"))
    assert not first & second


@EVERY
def test_the_page_is_small_closed_and_complete(finding: Finding) -> None:
    page = page_html(finding)
    assert len(page.encode()) < 100_000
    assert page.startswith("<!doctype html>")
    assert not re.search(
        r"<script|javascript:|https?:|//|@import|url\((?!#)|<link|<iframe", page, re.IGNORECASE
    )
    assert "Kart 07: did it help?" in page
    assert "What to do now" in page
    assert page.count("<svg") == page.count("</svg>") == page.count('role="img"') >= 1
    body = page[page.index("<body>") :].replace("</body></html>", "</body>")
    ElementTree.fromstring(body)


def test_the_page_names_nobody_and_no_other_kart() -> None:
    texts = re.sub(r"<[^>]*>", " ", page_html(by_hand.CANNOT_BE_TOLD))
    assert "Only another kart drove in the same sessions." in texts
    assert not re.search(r"\b11\b", texts)
    shown = re.sub(r"<[^>]*>", " ", page_html(by_hand.CANNOT_BE_TOLD, show_names=True))
    assert "Only kart 11 drove" in shown


def test_a_nickname_stands_in_place_of_the_number() -> None:
    page = page_html(by_hand.FASTER, nickname="Biene")
    assert "Biene: did it help?" in page
    assert "07" not in re.sub(r"<[^>]*>", " ", page[page.index("<body>") :]).replace("0.07", "")


@pytest.mark.parametrize("field", ["kart", "event", "session", "nickname", "item", "reason"])
def test_hostile_text_is_harmless(field: str) -> None:
    finding, nickname = by_hand.FASTER, None
    if field == "kart":
        cells = tuple(cell | {"kart": HOSTILE if cell["ours"] else cell["kart"]} for cell in finding.cells)
        finding = replace(finding, kart=HOSTILE, cells=cells)
    elif field == "event":
        finding = replace(finding, settings={"event": HOSTILE})
    elif field == "session":
        cells = tuple(cell | {"session": cell["session"] + HOSTILE} for cell in finding.cells)
        finding = replace(finding, before=(HOSTILE,), cells=cells, setup_differences=())
    elif field == "nickname":
        nickname = HOSTILE
    elif field == "item":
        finding = replace(
            finding, setup_differences=({"item": HOSTILE, "before": [HOSTILE], "after": ["x"]},)
        )
    else:
        finding = replace(by_hand.CANNOT_BE_TOLD, reasons=(HOSTILE,))
    page = page_html(finding, nickname=nickname)
    assert "<img" not in page
    assert "<script" not in page
    assert not re.search("[\x00-\x08\x0b-\x1f\u202e]", page)
    ElementTree.fromstring(page[page.index("<body>") : page.index("</body>")] + "</body>")
    assert page_png(finding, nickname=nickname).startswith(b"\x89PNG")


@FEW
def test_the_picture_for_a_phone_is_twice_390_px_wide(name: str) -> None:
    png = page_png(by_hand.ALL[name])
    assert png.startswith(b"\x89PNG")
    width, height = struct.unpack(">II", png[16:24])
    assert width == 780
    assert height > 800


@FEW
def test_the_pdf_is_one_a4_sheet(name: str) -> None:
    pdf = page_pdf(by_hand.ALL[name])
    assert pdf.startswith(b"%PDF")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf)) == 1
    box = re.search(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)", pdf)
    assert box is not None
    # ISO 216: A4 is 210 mm by 297 mm; a point is 1/72 inch.
    assert float(box[1]) == pytest.approx(210 / 25.4 * 72, abs=1)
    assert float(box[2]) == pytest.approx(297 / 25.4 * 72, abs=1)


def contrast(one: str, other: str) -> float:
    """WCAG 2.2, definition of contrast ratio and of relative luminance."""

    def luminance(colour: str) -> float:
        channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
        linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_text_and_marks_have_enough_contrast() -> None:
    # WCAG 2.2: 4.5:1 for text (1.4.3), 3:1 for graphical objects (1.4.11).
    for page, dark in ((LIGHT_PAGE, False), (DARK_PAGE, True)):
        assert contrast(ink(dark), page) >= 4.5
        assert contrast(grey(dark), page) >= 4.5
        assert contrast(BLUE, page) >= 3
        assert contrast(VERMILLION, page) >= 3


def encodings(spec: dict[str, Any]) -> list[dict[str, Any]]:
    """Every layer's channels; layers may hold layers."""
    if "layer" in spec:
        return [one for layer in spec["layer"] for one in encodings(layer)]
    return [spec.get("encoding", {})]


@PICTURES
def test_colour_says_better_or_worse_and_nothing_else(draw: Any) -> None:
    text = str(draw(by_hand.SLOWER).to_dict())
    assert (BLUE in text) == (VERMILLION in text) == (draw is change_dots)


def test_a_blue_circle_is_towards_better_whatever_the_measure() -> None:
    def looks(finding: Finding) -> set[tuple[str, str]]:
        return {(row["shape"], row["stroke"]) for row in dot_rows(change_dots(finding).to_dict())}

    faster_speed = replace(by_hand.LOWER_SPEED, estimate=3.0, low=2.0, high=4.0)
    assert looks(by_hand.FASTER) == looks(faster_speed) == {("circle", BLUE)}
    assert looks(by_hand.LOWER_SPEED) == {("square", VERMILLION)}
    assert looks(by_hand.HIGHER_RPM) == {("square", ink(False))}


def test_old_and_new_are_told_by_shape_and_filling() -> None:
    ours = next(
        one for one in encodings(sessions(by_hand.FASTER).to_dict()) if "shape" in one and "fill" in one
    )
    assert ours["shape"]["scale"]["range"] == ["circle", "diamond"]
    assert ours["fill"]["scale"]["range"] == ["transparent", ink(False)]


@PICTURES
def test_axes_write_numbers_as_the_language_does(draw: Any) -> None:
    numbers = {
        language: " ".join(
            re.findall(r">([^<>]*\d[^<>]*)</text", to_svg(draw(by_hand.NOT_SETTLED, language=language)))
        )
        for language in ("en", "de")
    }
    assert not re.search(r"\d\.\d", numbers["de"])
    assert not re.search(r"\d,\d", numbers["en"])
    # The mark stands in the specification itself: a picture saved from the page needs no setting of the page.
    spec, _ = for_screen(draw(by_hand.NOT_SETTLED, language="de"))
    assert spec["config"]["locale"]["number"]["decimal"] == ","


@pytest.mark.parametrize(
    ("values", "steps"),
    [
        ([], [0.0, 1.0]),
        ([-0.35, 0.02], [-0.4, -0.3, -0.2, -0.1, 0.0, 0.1]),
        ([0.3], [0.0, 0.1, 0.2, 0.3]),
        ([310], [0.0, 100.0, 200.0, 300.0, 400.0]),
        ([-1.0, 1.0], [-1.0, -0.5, 0.0, 0.5, 1.0]),
    ],
)
def test_steps_of_an_axis_are_round_and_hold_zero(values: list[float], steps: list[float]) -> None:
    assert round_steps(values) == pytest.approx(steps)


def test_the_question_of_the_season_stands_on_every_form_of_the_page() -> None:
    said = "Question 14 of the season 2025: about one in twenty changes that do nothing will look real."
    assert said in page_html(by_hand.FASTER, season=(14, 2025))
    assert said not in page_html(by_hand.FASTER)
    plain, counted = (len(page_png(by_hand.FASTER, season=season)) for season in (None, (14, 2025)))
    assert plain != counted


def test_the_driver_s_words_come_first() -> None:
    page = page_html(by_hand.FASTER)
    places = [page.index(text) for text in (
        '<p class="verdict">Faster', "With the change the kart was about", "Count the dots: 20 of 20",
        "Four teeth fewer", "<figure>", "What to do now",
    )]  # fmt: skip
    assert places == sorted(places)


def test_marks_inside_a_page_are_seen_on_either_ground() -> None:
    # WCAG 2.2, 1.4.11: 3:1; the page's ground follows the reader's choice, text and our marks follow it too.
    used = set(re.findall(r"#[0-9a-fA-F]{6}", inline_svg(sessions(by_hand.FASTER), "p")))
    assert used
    assert grey(False) not in used
    for colour in used:
        assert contrast(colour, LIGHT_PAGE) >= 3
        assert contrast(colour, DARK_PAGE) >= 3


@pytest.mark.parametrize("language", sorted(LANGUAGES))
def test_the_page_speaks_every_language(language: str) -> None:
    assert f'lang="{language}"' in page_html(by_hand.FASTER, language=language)


def test_layers_within_layers_are_silent_to_a_screen_reader_too() -> None:
    dot = alt.Chart(alt.Data(values=[{"x": 1}])).mark_point().encode(x="x:Q")
    spec, _ = for_screen(alt.layer(dot, dot + dot))
    assert str(spec).count("'aria': False") == 3


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["P1", "P2"], ["P1", "P2"]),
        ([f"Freies Training {n}" for n in (1, 2, 3, 10)], ["1", "2", "3", "10"]),
        (["Warm-up", "Second go of all"], ["Warm-up", "Second go o…"]),
        (["morning of the first day", "morning of the last day of all"], ["first day", "last day of…"]),
    ],
)
def test_labels_leave_out_what_all_names_begin_with(names: list[str], said: list[str]) -> None:
    assert labels(names) == said


def test_labels_are_never_alike() -> None:
    names = [f"{n} very long name of a session that all have" for n in range(8)] + [
        "x" * 40 + n for n in "ab"
    ]
    found = labels(names)
    assert len(set(found)) == len(names)
    assert max(map(len, found)) <= 7


def test_single_laps_of_sessions_with_long_names_stay_apart(tmp_path: Path) -> None:
    laps = make_archive(tmp_path / "archive").laps("2025-05-18")
    laps = laps.with_columns(pl.format("Freies Training {}", pl.col("session").str.slice(1)).alias("session"))
    sides = {"before": ["Freies Training 1", "Freies Training 4"], "after": ["Freies Training 2"]}
    spec = single_laps(laps, compare(laps, kart="07", **sides)).to_dict()
    rows = [row for layer in spec["layer"] for row in layer["data"]["values"]]
    assert {row["session"] for row in rows} == {"1", "2", "4"}


def test_what_to_do_now_stands_above_the_sessions() -> None:
    page = page_html(by_hand.FASTER)
    assert page.index("<figure>") < page.index(phrase("page.now")) < page.rindex("<figure>")


def test_the_title_of_the_sessions_names_what_was_measured() -> None:
    speed = replace(by_hand.FASTER, measure="top_speed", estimate=4.0)
    stretch = replace(by_hand.FASTER, measure="sector_2")
    for finding, english, german in (
        (by_hand.FASTER, "kart 07 was ", "war Kart 07 mit "),
        (speed, "the top speed of kart 07 was 4.0 km/h higher", "die Höchstgeschwindigkeit von Kart 07 mit"),
        (stretch, "faster in sector 2", "war Kart 07 in Sektor 2 mit"),
    ):
        assert english in sessions(finding).to_json(), english
        assert german in sessions(finding, language="de").to_dict()["description"], german


def test_a_change_that_cannot_be_told_is_not_in_the_legend() -> None:
    others = tuple(row for row in by_hand.FASTER.placebo if not row["ours"])
    untold = replace(by_hand.FASTER, verdict="cannot be told", estimate=None, placebo=others)
    for finding, kinds in ((by_hand.FASTER, 2), (untold, 1)):
        shapes = [
            layer["encoding"]["shape"]
            for layer in placebo(finding).to_dict()["layer"]
            if "shape" in layer["encoding"]
        ]
        assert [len(shape["scale"]["domain"]) for shape in shapes] == [kinds]
