"""One table of words, true at its edges; plain sentences for every verdict, nothing forbidden in them."""

import re
import string
from dataclasses import replace

import findings_by_hand as by_hand
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from lapdelta.effect.finding import FLAGS, Finding
from lapdelta.sheet.advice import missing_piece, what_now
from lapdelta.sheet.sentences import for_the_driver, headline, how_sure, keep_in_mind, say, verdict_word
from lapdelta.sheet.subject import subject
from lapdelta.words import LANGUAGES, SCALE, TWENTY, dots_below, in_twenty, join, phrase, probability_word

EVERY = pytest.mark.parametrize("finding", by_hand.ALL.values(), ids=by_hand.ALL.keys())

#: Wording that the design of this project rules out, in any sentence about a finding.
FORBIDDEN = re.compile(
    r"\bbecause\b|signific|\bp[- ]?value|\bp =|\bnan\b|\bNone\b(?! of)|\binf\b|[{}]", re.IGNORECASE
)


@pytest.mark.parametrize(
    ("probability", "word", "number"),
    [
        (1.0, "almost certain", "more than 19 in 20"),
        (0.975, "almost certain", "more than 19 in 20"),
        (0.9749, "very likely", "19 in 20"),
        (0.875, "very likely", "18 in 20"),
        (0.8749, "likely", "17 in 20"),
        (0.675, "likely", "14 in 20"),
        (0.6749, "about as likely as not", "13 in 20"),
        (0.5, "about as likely as not", "10 in 20"),
        (0.325, "about as likely as not", "7 in 20"),
        (0.3249, "unlikely", "6 in 20"),
        (0.125, "unlikely", "3 in 20"),
        (0.1249, "very unlikely", "2 in 20"),
        (0.025, "very unlikely", "1 in 20"),
        (0.0249, "almost certainly not so", "less than 1 in 20"),
        (0.0, "almost certainly not so", "less than 1 in 20"),
    ],
)
def test_the_words_change_at_their_edges(probability: float, word: str, number: str) -> None:
    assert probability_word(probability) == word
    assert in_twenty(probability) == number


@pytest.mark.parametrize("language", sorted(LANGUAGES))
@pytest.mark.parametrize("place", range(len(SCALE) - 1), ids=lambda place: SCALE[place].key)
def test_each_edge_parts_two_words_and_two_numbers_of_dots(place: int, language: str) -> None:
    upper, lower = SCALE[place], SCALE[place + 1]
    # Half a dot below the dots it begins with, by hand: 19.5, 17.5, 13.5, 6.5, 2.5 and 0.5 of 20.
    edge = (0.975, 0.875, 0.675, 0.325, 0.125, 0.025)[place]
    assert upper.edge == pytest.approx(edge, abs=1e-12)
    for probability, step in ((edge, upper), (edge + 1e-6, upper), (edge - 1e-6, lower)):
        assert probability_word(probability, language) == phrase(f"chance.{step.key}", language)
    assert dots_below(edge) == dots_below(edge - 1e-6) + 1 == upper.least
    assert in_twenty(edge, language) != in_twenty(edge - 1e-6, language)


def test_the_ends_of_the_table() -> None:
    assert SCALE[-1].edge == 0.0
    assert (dots_below(0.0), dots_below(1.0)) == (0, TWENTY)
    # The other side of 0.925 and of 0.675, which binary fractions put a hair below their edges.
    assert [dots_below(1.0 - value) for value in (0.925, 0.675)] == [2, 7]
    assert [in_twenty(value / 20) for value in (1, 19)] == ["1 in 20", "19 in 20"]
    assert [in_twenty(value, "de") for value in (0.0, 0.5, 1.0)] == [
        "weniger als 1 von 20", "10 von 20", "mehr als 19 von 20",
    ]  # fmt: skip


def test_the_table_has_a_word_for_every_number_of_dots() -> None:
    least = [step.least for step in SCALE]
    assert least == sorted(least, reverse=True)
    assert (least[0], least[-1]) == (TWENTY, 0)
    for step in SCALE:
        assert phrase(f"chance.{step.key}")
        if step.least:
            assert dots_below(step.edge) == step.least


def test_edges_lie_within_one_dot_of_the_published_likelihood_scale() -> None:
    # Mastrandrea et al. 2010, guidance note for IPCC AR5, table 1 (from memory): virtually certain from 99 %,
    # very likely from 90 %, likely from 66 %, about as likely as not 33-66 %, very unlikely up to 10 %.
    published = {"almost_certain": 0.99, "very_likely": 0.90, "likely": 0.66, "as_likely_as_not": 0.33}
    edges = {step.key: step.edge for step in SCALE}
    for key, value in published.items():
        assert abs(edges[key] - value) <= 1 / TWENTY, key
    assert abs(edges["unlikely"] - 0.10) <= 1 / TWENTY


@given(st.floats(0, 1))
def test_the_number_said_is_the_number_of_dots_drawn(probability: float) -> None:
    quantiles = (np.arange(TWENTY) + 0.5) / TWENTY
    assert abs(dots_below(probability) - int((quantiles < probability).sum())) <= 1
    assert abs(dots_below(probability) / TWENTY - probability) <= 0.5 / TWENTY + 1e-9


@pytest.mark.parametrize("bad", [-0.01, 1.01, float("nan")])
def test_what_is_no_probability_gets_no_word(bad: float) -> None:
    with pytest.raises(ValueError, match="not a probability"):
        dots_below(bad)


def test_languages_have_the_same_keys_and_placeholders() -> None:
    english = LANGUAGES["en"]

    def holes(text: str) -> set[str]:
        return {name for _, name, _, _ in string.Formatter().parse(text) if name}

    for language, texts in LANGUAGES.items():
        assert set(texts) == set(english), language
        for key, text in texts.items():
            assert holes(text) == holes(english[key]), (language, key)
            assert not re.search("because|signific", text, re.IGNORECASE), (language, key)


def test_lists_are_joined_as_spoken() -> None:
    assert [join([]), join(["P1"]), join(["P1", "P2"]), join(["P1", "P2", "P3"])] == [
        "", "P1", "P1 and P2", "P1, P2 and P3",
    ]  # fmt: skip


def test_the_headline_of_the_job() -> None:
    assert headline(by_hand.FASTER) == (
        "Four teeth fewer on the axle: 0.61 s a lap faster than it would have been, "
        "probably between 0.24 and 0.98 s."
    )


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        (
            "slower",
            "One tooth more on the engine sprocket, together with 1 other change: 0.31 s a lap slower than "
            "it would have been, probably between 0.05 and 0.57 s.",
        ),
        (
            "no worthwhile difference",
            "Four teeth fewer on the axle: no worthwhile difference. Probably between 0.09 s a lap faster "
            "and 0.07 s a lap slower than it would have been.",
        ),
        (
            "not settled",
            "P2 and P3 against P1 and P4: not settled. It may have been anything between 0.52 s a lap faster "
            "and 0.22 s a lap slower than it would have been.",
        ),
        ("cannot be told", "Four teeth fewer on the axle: cannot be told from these sessions."),
        (
            "lower speed",
            "Four teeth fewer on the axle: top speed 1.4 km/h lower than it would have been, probably "
            "between 0.5 and 2.3 km/h.",
        ),
        (
            "higher rpm",
            "Four teeth fewer on the axle: peak rpm 260 higher than it would have been, probably "
            "between 120 and 400.",
        ),
        (
            "sector",
            "Four teeth fewer on the axle: 0.21 s faster in sector 2 than it would have been, probably "
            "between 0.06 and 0.36 s.",
        ),
    ],
)
def test_headlines(name: str, expected: str) -> None:
    assert headline(by_hand.ALL[name]) == expected


@pytest.mark.parametrize(
    ("name", "word"),
    [("faster", "faster"), ("slower", "slower"), ("lower speed", "lower"), ("higher rpm", "higher")]
    + [(name, name) for name in ("no worthwhile difference", "not settled", "cannot be told")],
)
def test_the_verdict_word_fits_the_measure(name: str, word: str) -> None:
    assert verdict_word(by_hand.ALL[name]) == word


@EVERY
def test_every_sentence_is_whole_and_allowed(finding: Finding) -> None:
    sentences = [*say(finding), *for_the_driver(finding)]
    assert len(sentences) >= 4
    for sentence in sentences:
        assert sentence == sentence.strip()
        assert sentence.endswith(".")
        assert not FORBIDDEN.search(sentence), sentence
        assert "  " not in sentence


@EVERY
def test_a_word_of_chance_never_stands_without_its_number(finding: Finding) -> None:
    words = sorted((phrase(f"chance.{step.key}") for step in SCALE), key=len, reverse=True)
    for sentence in say(finding):
        if any(word in sentence for word in words):
            assert "in 20" in sentence, sentence


@EVERY
def test_what_to_do_now_is_always_said(finding: Finding) -> None:
    steps = what_now(finding)
    assert steps
    assert say(finding)[-len(steps) :] == steps


def test_sprockets_come_with_the_caution_that_defers_to_manual_and_rules() -> None:
    for finding in (by_hand.FASTER, by_hand.SLOWER, by_hand.CANNOT_BE_TOLD):
        assert "manual" in what_now(finding)[-1]
        assert "class rules" in what_now(finding)[-1]
    assert not any("manual" in step for step in what_now(by_hand.NOT_SETTLED))


def test_not_settled_says_what_could_be_claimed_and_what_would_settle_it() -> None:
    text = " ".join(say(by_hand.NOT_SETTLED))
    assert "less than 0.45 s either way" in text
    assert "old, new, new, old" in text
    near = replace(by_hand.NOT_SETTLED, half_width=0.17)
    assert "about 3 times as many sessions" in " ".join(what_now(near))


def test_cannot_be_told_says_why_and_the_cure() -> None:
    assert how_sure(by_hand.CANNOT_BE_TOLD) == ["Why: Only kart 11 drove in the same sessions."]
    assert missing_piece(by_hand.CANNOT_BE_TOLD) == "no_others"
    bare = tuple(cell | {"pace": None} for cell in by_hand.CANNOT_BE_TOLD.cells)
    speed = replace(by_hand.CANNOT_BE_TOLD, measure="top_speed", cells=bare)
    assert how_sure(speed) == ["There is no top speed, or hardly any, in the timing of these sessions."]
    assert what_now(speed)[0] == "Ask about the lap time, or bring in timing that holds top speed."
    assert missing_piece(replace(speed, measure="lap_time")) == "no_before"
    both = replace(by_hand.CANNOT_BE_TOLD, before=("P1", "P2"))
    assert "one list only" in what_now(both)[0]
    empty = tuple(
        cell | ({"pace": None} if cell["setting"] == "after" else {}) for cell in by_hand.CANNOT_BE_TOLD.cells
    )
    assert "on the new setting" in what_now(replace(by_hand.CANNOT_BE_TOLD, cells=empty))[0]


def test_speed_rpm_and_sectors_are_no_reason_to_keep_a_setting() -> None:
    for finding in (by_hand.LOWER_SPEED, by_hand.HIGHER_RPM, by_hand.SECTOR, by_hand.LATE_LAPS):
        assert "lap time before deciding" in what_now(finding)[0]


@pytest.mark.parametrize("flag", FLAGS)
def test_every_flag_has_its_sentence(flag: str) -> None:
    plain = keep_in_mind(by_hand.FASTER)
    flagged = keep_in_mind(replace(by_hand.FASTER, flags=(flag,), tipping_rate=-0.3))
    assert len(flagged) == len(plain) + 1


def test_the_tipping_rate_is_an_hour_with_a_clock_and_a_session_without() -> None:
    assert any("0.30 s an hour slower" in sentence for sentence in keep_in_mind(by_hand.SLOWER))
    cells = tuple(cell | {"time_h": None} for cell in by_hand.SLOWER.cells)
    assert any("0.30 s a session slower" in s for s in keep_in_mind(replace(by_hand.SLOWER, cells=cells)))


@pytest.mark.parametrize(
    ("differences", "expected"),
    [
        ([{"item": "axle_teeth", "before": ["82"], "after": ["81"]}], "One tooth fewer on the axle"),
        ([{"item": "axle_teeth", "before": [80], "after": [93]}], "Thirteen teeth more on the axle"),
        (
            [
                {"item": "axle_teeth", "before": [80], "after": [82]},
                {"item": "engine_teeth", "before": [10], "after": [11]},
            ],
            "Two teeth more on the axle, one tooth more on the engine sprocket",
        ),
        ([{"item": "axle_teeth", "before": [80, 81], "after": [82]}], "P2 and P3 against P1 and P4"),
        ([{"item": "axle_teeth", "before": [], "after": [82]}], "P2 and P3 against P1 and P4"),
        (
            [{"item": "pressure_rear_left_bar", "before": [0.62], "after": [0.6]}],
            "Rear left pressure, bar, from 0.62 to 0.6",
        ),
        (
            [
                {"item": "pressure_rear_left_bar", "before": [0.62], "after": [0.68]},
                {"item": "pressure_rear_right_bar", "before": [0.62], "after": [0.68]},
            ],
            "Rear pressure, bar, from 0.62 to 0.68",
        ),
        ([{"item": "notes", "before": ["Ole drove"], "after": ["dry"]}], "P2 and P3 against P1 and P4"),
        (
            [
                {"item": "axle_teeth", "before": [80], "after": [78]},
                {"item": "air_temperature_c", "before": [19.0], "after": [24.0]},
            ],
            "Two teeth fewer on the axle",
        ),
    ],
)
def test_the_subject_names_the_change_or_the_sessions(
    differences: list[dict[str, object]], expected: str
) -> None:
    assert subject(replace(by_hand.FASTER, setup_differences=tuple(differences))) == expected


def test_a_bundle_names_everything_that_the_subject_does_not() -> None:
    teeth = {"item": "axle_teeth", "before": [82], "after": [80]}
    several = {"item": "axle_teeth", "before": [82, 83], "after": [80]}
    tyres = {"item": "tyre_set", "before": ["A"], "after": ["B"]}
    pressures = [
        {"item": f"pressure_rear_{side}_bar", "before": [0.62], "after": [0.68]} for side in ("left", "right")
    ]

    def said(*differences: dict[str, object]) -> str:
        return keep_in_mind(replace(by_hand.SLOWER, flags=("bundle",), setup_differences=differences))[0]

    assert said(teeth, tyres).startswith("Not the only thing that changed (tyre set):")
    # the subject names the sessions only: nothing may be missing from the list
    assert said(tyres, *pressures).startswith("More than one thing changed (tyre set and rear pressure):")
    assert said(several, tyres).startswith("More than one thing changed (axle sprocket teeth and tyre set):")


numbers = st.floats(-3, 3, allow_nan=False).filter(lambda value: abs(value) > 1e-6)


@given(estimate=numbers, error=st.floats(1e-4, 2), margin=st.floats(0.01, 0.5), better=st.floats(0, 1))
def test_no_numbers_lead_to_a_broken_sentence(
    estimate: float, error: float, margin: float, better: float
) -> None:
    low, high = estimate - 2.2 * error, estimate + 2.2 * error
    clear = "faster" if high < 0 else "slower"
    finding = replace(
        by_hand.FASTER, estimate=estimate, standard_error=error, low=low, high=high, margin=margin,
        verdict="not settled" if low < 0 < high else clear, chance_better=better,
        chance_worthwhile=better / 2, half_width=2.2 * error, smallest_margin=abs(estimate) + 1.8 * error,
    )  # fmt: skip
    for sentence in say(finding):
        assert sentence.endswith(".")
        assert not FORBIDDEN.search(sentence), sentence
    assert ("faster than" in headline(finding)) == (finding.verdict == "faster")


def test_one_other_kart_is_not_said_as_many() -> None:
    from lapdelta.words import moved_phrase

    assert (
        moved_phrase("say.placebo", 0, 1) == "The one other kart did not move as much without a known change."
    )
    assert "1 other karts" not in moved_phrase("placebo.title", 1, 1)


@EVERY
def test_german_says_the_same_verdict_and_numbers(finding: Finding) -> None:
    english, german = headline(finding), headline(finding, "de")
    assert re.findall(r"\d+[.,]\d+", english.replace(",", ".")) == [
        number.replace(",", ".") for number in re.findall(r"\d+[.,]\d+", german)
    ]
    assert not re.search(
        r"\b(the|than|faster|slower)\b", " ".join(how_sure(replace(finding, reasons=()), "de"))
    )


def test_reasons_of_the_core_are_said_in_the_language_and_name_no_other_kart() -> None:
    reasons = ("only 2 comparable other karts ran both before and after, three are needed in this order of "
               "sessions without a history of this kart", "Ask about the lap time instead.")  # fmt: skip
    finding = replace(by_hand.CANNOT_BE_TOLD, reasons=reasons)
    assert how_sure(finding, "de", show_names=False) == [
        "Warum: Nur 2 vergleichbare andere Karts fuhren vorher und nachher, drei sind bei dieser Reihenfolge "
        "ohne Vorgeschichte dieses Karts nötig.",
        "Stattdessen nach der Rundenzeit fragen.",
    ]
    assert how_sure(by_hand.CANNOT_BE_TOLD, "de", show_names=False) == [
        "Warum: Only ein anderes Kart drove in the same sessions."
    ]


def test_german_grammar_of_subjects_and_numbers() -> None:
    pressure = ({"item": "pressure_rear_left_bar", "before": [0.62], "after": [0.6]},)
    assert subject(replace(by_hand.FASTER, setup_differences=pressure), "de") == (
        "Druck hinten links, bar, von 0,62 auf 0,6"
    )
    tyres = ({"item": "tyre_set", "before": ["A.1"], "after": ["B"]},)
    assert subject(replace(by_hand.FASTER, setup_differences=tyres), "de") == "Reifensatz von A.1 auf B"
    assert "je Runde schneller, als es sonst gewesen wäre" in headline(by_hand.FASTER, "de")


def test_the_driver_is_told_in_words_that_fit_the_verdict() -> None:
    assert for_the_driver(by_hand.NO_DIFFERENCE)[1:] == ["Take the one that you like better."]
    assert for_the_driver(by_hand.SMALL)[1:] == ["That is too little to matter: less than 0.10 s."]
    assert for_the_driver(by_hand.NOT_SETTLED)[1:] == ["Count the dots: 16 of 20 say faster."]
    # Which setting is liked better is no matter of top speed.
    speed = replace(by_hand.LOWER_SPEED, verdict="no worthwhile difference")
    assert for_the_driver(speed) == ["With the change top speed did not move by enough to matter."]


def test_german_nouns_keep_their_capital() -> None:
    assert "(Druck hinten links)" in " ".join(keep_in_mind(by_hand.SLOWER, "de"))
    assert "(rear left pressure)" in " ".join(keep_in_mind(by_hand.SLOWER))


def test_faster_and_slower_are_the_only_words_for_it() -> None:
    for key, text in LANGUAGES["en"].items():
        assert not re.search(r"\bquick(er|est)\b", text), key


def test_the_season_s_question_stands_beside_every_answer() -> None:
    for finding in by_hand.ALL.values():
        said = " ".join(keep_in_mind(finding, season=(14, 2025)))
        assert (
            "Question 14 of the season 2025: about one in twenty changes that do nothing will look real."
            in said
        )


def test_only_the_first_reason_of_what_cannot_be_told_is_said_as_why():
    finding = replace(
        by_hand.CANNOT_BE_TOLD, reasons=("No session has laps.", "Run four laps or more a session.")
    )
    assert how_sure(finding) == ["Why: No session has laps.", "Run four laps or more a session."]
