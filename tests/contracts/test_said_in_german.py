"""What the library says in English is said in German too: every sentence in its code, and every sentence it makes."""

import ast
import itertools
import re
from functools import lru_cache
from pathlib import Path
from typing import Any

import findings_by_hand as by_hand
import polars as pl
import pytest
import reading_corpus
from command_in_process import command
from sample_archive import make_archive

import lapdelta
from lapdelta.asking.archive_question import ask
from lapdelta.asking.beside import Beside, say_beside
from lapdelta.cli.outcome import LANGUAGE_CODES
from lapdelta.errors import LapdeltaError
from lapdelta.gearing import check_list, on_track_list
from lapdelta.gearing.safety import FIRST
from lapdelta.planning.plan import plan_test
from lapdelta.seasons import season
from lapdelta.setups import proposed_questions
from lapdelta.tables import LAPS
from lapdelta.what_next.answer import what_next
from lapdelta.words import LANGUAGES, in_language, said_in
from lapdelta.words.library import _HOLE, _table

ROOT = Path(lapdelta.__file__).parent
ROOMS = (
    "reading", "archive", "setups", "effect", "gearing", "question", "planning", "asking", "seasons", "parts",
    "what_next",
)  # fmt: skip
HOLE = "\x01"
#: Sentences for the archive's own files, or with a hole that is often empty (its forms stand in the table).
NOT_FOR_A_PAGE = ("archive/schema.py",)
BY_FORM = {f"That is not a finding{HOLE}."}
#: Words that no German sentence has; names of columns and commands have them, so those are taken out first.
ENGLISH = re.compile(r"\b(the|of|and|with|than|only|more|were|which|sessions?|laps|other)\b")
NAMES = re.compile(r"Archive\.laps|lapdelta [a-z]+|--[a-z-]+|column [a-z_]+|Spalte [a-z_]+")


def alternatives(node: ast.AST, names: dict[str, list[str]]) -> list[str]:
    """Every text that an expression can be, as far as the code shows; what it does not show is a hole."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        return [node.value]
    if isinstance(node, ast.IfExp):
        return alternatives(node.body, names) + alternatives(node.orelse, names)
    if isinstance(node, ast.Name) and node.id in names:
        return names[node.id]
    if isinstance(node, ast.BinOp) and isinstance(node.op, ast.Add):
        parts = [alternatives(side, names) for side in (node.left, node.right)]
        return ["".join(pair) for pair in itertools.product(*parts)]
    if isinstance(node, ast.JoinedStr):
        parts = [
            _hole(part, names) if isinstance(part, ast.FormattedValue) else [part.value]
            for part in node.values
        ]
        return ["".join(pair) for pair in itertools.product(*parts)]
    return [HOLE]


def _hole(part: ast.FormattedValue, names: dict[str, list[str]]) -> list[str]:
    spec = ast.unparse(part.format_spec) if part.format_spec else ""
    return [f"{HOLE}%"] if spec.endswith("%'") else alternatives(part.value, names)


def _named(nodes: list[ast.AST]) -> dict[str, list[str]]:
    """Texts that are given a name within a function."""
    names: dict[str, list[str]] = {}
    for node in nodes:
        if isinstance(node, ast.Assign) and isinstance(node.targets[0], ast.Name):
            pairs = [(node.targets[0], node.value)]
        elif (
            isinstance(node, ast.Assign)
            and isinstance(node.targets[0], ast.Tuple)
            and isinstance(node.value, ast.Tuple)
        ):
            pairs = list(zip(node.targets[0].elts, node.value.elts, strict=False))
        else:
            continue
        for name, value in pairs:
            if isinstance(name, ast.Name) and isinstance(value, (ast.IfExp, ast.Constant, ast.JoinedStr)):
                names.setdefault(name.id, []).extend(alternatives(value, names))
    return names


def sentences_in(path: Path) -> set[str]:
    """Whole sentences written in a module; docstrings are none."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    silent = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    silent |= {id(part) for node in ast.walk(tree) if isinstance(node, ast.JoinedStr) for part in node.values}
    found: set[str] = set()
    for scope in [node for node in ast.walk(tree) if isinstance(node, (ast.FunctionDef, ast.Module))]:
        nodes = _nodes(scope)
        names = _named(nodes)
        for node in nodes:
            if id(node) not in silent and isinstance(node, (ast.Constant, ast.JoinedStr, ast.BinOp)):
                found |= {text for text in alternatives(node, names) if _is_sentence(text)}
    return found


def _nodes(scope: ast.AST) -> list[ast.AST]:
    """A function's nodes, or those of a module outside its functions and classes."""
    if isinstance(scope, ast.FunctionDef):
        return list(ast.walk(scope))
    own = [
        part for part in ast.iter_child_nodes(scope) if not isinstance(part, (ast.FunctionDef, ast.ClassDef))
    ]
    return [node for part in own for node in ast.walk(part)]


def _is_sentence(text: str) -> bool:
    begins = re.match(rf"[A-Z]|{HOLE}", text)
    return bool(begins and text.endswith(".") and " " in text and re.search("[a-z]{3}", text))


@lru_cache(maxsize=1)
def _forms() -> list[re.Pattern[str]]:
    """The German table's templates with any text in their holes; those that are little more than holes left out."""
    return [
        re.compile(".+?".join(re.escape(piece) for piece in _HOLE.split(template.english)[::3]), re.DOTALL)
        for template in _table("de").holed
        if len(re.sub(r"[^A-Za-z]", "", "".join(template.pieces))) >= 5
    ]


def _fits(text: str, forms: list[re.Pattern[str]]) -> bool:
    def one(part: str) -> bool:
        return part in _table("de").plain or any(form.fullmatch(part) for form in forms)

    ends = [match.start() + 1 for match in re.finditer(r"[.!?] ", text)]
    return one(text) or any(one(text[:end]) and _fits(text[end + 1 :], forms) for end in ends)


@pytest.mark.parametrize("room", ROOMS)
def test_every_sentence_in_the_code_has_its_german(room: str) -> None:
    forms = _forms()
    missing = {
        f"{path.relative_to(ROOT)}: {text.replace(HOLE, '{..}')}"
        for path in sorted((ROOT / room).glob("*.py"))
        if path.relative_to(ROOT).as_posix() not in NOT_FOR_A_PAGE
        for text in sentences_in(path) - BY_FORM
        if not _fits(text, forms)
    }
    assert not missing, "to be added, with their German, to lapdelta/words/german_*.toml"


def test_a_sentence_that_is_not_in_the_table_is_found(tmp_path: Path) -> None:
    # The test above must be able to fail: sentences of a made-up module, and one that has its German.
    module = tmp_path / "made.py"
    module.write_text(
        '"""Doc."""\ndef f(x):\n    """Doc too."""\n    way = "up" if x else "down"\n'
        '    return f"Nobody ever said {x} goes {way}.", "The file is empty."\n'
    )
    forms = _forms()
    found = sentences_in(module)
    assert found == {
        f"Nobody ever said {HOLE} goes up.",
        f"Nobody ever said {HOLE} goes down.",
        "The file is empty.",
    }
    assert [text for text in sorted(found) if _fits(text, forms)] == ["The file is empty."]


def numbers(text: str) -> list[str]:
    """Numbers as they stand, decimals with a point, in any order."""
    return sorted(re.findall(r"\d+(?:\.\d+)?", text.replace(",", ".")))


def german(said: set[str]) -> None:
    """Every sentence has its German, with the same numbers and no English word left in it."""
    missing = {sentence for sentence in said if said_in(sentence, "de") is None}
    assert not missing
    for sentence in said:
        text = in_language(sentence, "de")
        assert not ENGLISH.search(NAMES.sub("", text)), (sentence, text)
        assert "{" not in text, text
        kept = [number for number in numbers(text) if number != "1"]
        assert kept == [number for number in numbers(sentence) if number != "1"], (sentence, text)
        assert not re.search(r"\d\.\d", NAMES.sub("", text)), text


def of_a_finding(finding: Any) -> set[str]:
    """All English in a finding."""
    choices = {": ".join(filter(None, (row["choice"], row["setting"]))) for row in finding.choices}
    aside = {reason for cell in finding.cells for reason in cell["set_aside"]}
    return {*finding.reasons, *(row[2] for row in finding.checks), *choices, *aside}


def day(karts: int = 5, sessions: int = 4, scatter: float = 0.11, **more: Any) -> pl.DataFrame:
    """A small practice day, times by a fixed rule."""
    rows: list[dict[str, Any]] = []
    for kart, session, lap in itertools.product(range(karts), range(sessions), range(7)):
        time = 50 + 0.07 * kart * session % 0.5 + scatter * (lap * (kart + 2) % 5)
        rows.append(
            dict.fromkeys(LAPS)
            | {"session": f"P{session + 1}", "kart": f"{7 + kart:02d}", "lap": lap + 1, "lap_time_s": time}
            | {"sector_times_s": [0.3 * time, 0.3 * time, 0.4 * time], "marks": []}
            | {"top_speed_kmh": 90.0 + lap % 3, "peak_rpm": 13000.0 + 10 * (lap % 4)}
            | more
        )
    return pl.DataFrame(rows, schema=LAPS)


HISTORY = [0.05, -0.08, 0.02, 0.11, -0.04, 0.07, -0.06, 0.03]
ASKED = {"kart": "07", "before": ["P1", "P4"], "after": ["P2", "P3"]}
DAYS: dict[str, Any] = {
    "plain": (day(), {}),
    "in a block": (day(), {"before": ["P1", "P2"], "after": ["P3", "P4"]}),
    "alone": (day(karts=1, sessions=6), {"before": ["P1", "P4"], "after": ["P2", "P3", "P5"]}),
    "alone, with a history": (day(karts=1), {"history": HISTORY}),
    "alone, two sessions": (day(karts=1, sessions=2), {"before": ["P1"], "after": ["P2"], "history": HISTORY}),
    "one other kart": (day(karts=2), {}),
    "three other karts": (day(karts=4), {"before": ["P1"], "after": ["P2"]}),
    "erratic": (day().with_columns(pl.when(pl.col("kart") == "07").then(
        pl.col("lap_time_s") + 0.9 * (pl.col("lap") % 3)).otherwise("lap_time_s").alias("lap_time_s")), {}),
    "rain": (day().with_columns(pl.when(pl.col("session") == "P3").then(
        1.1 * pl.col("lap_time_s")).otherwise("lap_time_s").alias("lap_time_s")), {}),
    "one named twice": (day(), {"before": ["P1", "P2"], "after": ["P2", "P3"]}),
    "two laps": (day().filter(pl.col("lap") <= 2), {}),
    "no scatter": (day(scatter=0.0).with_columns(lap_time_s=pl.lit(50.0)), {}),
    "a sector": (day(), {"measure": "sector_1"}),
    "top speed": (day(), {"measure": "top_speed"}),
}  # fmt: skip


@pytest.mark.parametrize("name", DAYS)
def test_findings_are_said_in_german(name: str) -> None:
    laps, changes = DAYS[name]
    german(of_a_finding(lapdelta.compare(laps, **(ASKED | changes))))


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> lapdelta.Archive:
    """Two days of the sample season."""
    return make_archive(tmp_path_factory.mktemp("kept") / "archive")


def test_a_day_of_the_sample_season_is_said_in_german(archive: lapdelta.Archive) -> None:
    found = what_next(archive, event="2025-05-18")
    assert found.finding is not None
    assert found.plan is not None
    assert found.pulled is not None
    said = {*of_a_finding(found.finding), *found.plan.sentences, *found.why_not}
    said |= {step.sentence for step in found.steps}
    said |= set(found.sentences[1 + len(found.do_now) :])
    said |= {found.pulled.sentence, *found.pulled.reasons, *found.pulled.could_fake}
    said |= {found.expectation.sentence} if found.expectation else set()
    german(said)


@pytest.mark.parametrize("factor", ["axle_teeth", "total_weight_kg", "air_temperature_c"])
def test_a_season_is_said_in_german(archive: lapdelta.Archive, factor: str) -> None:
    found = season(archive.laps(), setups=archive.setups, events=archive.events, factor=factor)
    german({*found.sentences, *(row["reason"] for row in found.left_out)})
    assert len(found.sentences) >= 2
    # nobody sets the weather: no day with another one is suggested
    assert factor != "air_temperature_c" or not any(track["next"] for track in found.tracks)


def test_hands_history_and_what_stands_beside_are_said_in_german(archive: lapdelta.Archive) -> None:
    event, kart = "2025-05-18", "07"
    sessions = archive.sessions(event)["session"].to_list()
    changes = proposed_questions(archive.setups, sessions, event, kart)
    lap = archive.laps(event).filter(pl.col("kart") == kart, pl.col("session") == changes[0]["before"][0])
    number = lap["lap"].to_list()[3]
    entry = archive.set_aside_laps(event, changes[0]["before"][0], kart, [number])
    finding = ask(archive, event=event, kart=kart, before=changes[0]["before"], after=changes[0]["after"])
    archive.undo(entry)
    written = {"changed": "", "expected": "", "margin": None, "wish": None, "words": "läuft", "at": None,
               "in_advance": True}  # fmt: skip
    beside = say_beside(Beside(2025, 3, 14, written))
    german({*of_a_finding(finding), *archive.history()["what"], *beside, *(row["text"] for row in changes)})
    assert any("hand" in reason for reason in finding.reasons)


def test_the_page_is_shared_in_german(archive: lapdelta.Archive, tmp_path: Path) -> None:
    out = tmp_path / "fahrer.html"
    done = command(
        "share", "--archive", archive.folder, "--event", "2025-05-18", "--before", "P1", "P4", "--after", "P2", "P3",
        "--language", "de", "--out", out,
    )  # fmt: skip
    assert done.status == 0, done.err
    page = out.read_text(encoding="utf-8")
    assert 'lang="de"' in page
    assert re.search(r"Frage \d+ der Saison 2025: etwa eine von zwanzig", page)
    assert "Was jetzt zu tun ist" in page
    assert tuple(LANGUAGES) == LANGUAGE_CODES


def test_plans_are_said_in_german() -> None:
    options: list[dict[str, Any]] = [
        {}, {"margin": 0.5}, {"other_karts": 0}, {"looks": "half way", "sessions_left": 8}, {"expected": 0.02},
        {"random_order": True, "sessions_left": 8, "seed": 1}, {"sessions_left": 2}, {"power": 0.9},
        {"session_sd": 0.05, "lap_sd": 0.2},
    ]  # fmt: skip
    for changes in options:
        plan = plan_test(**({"sessions_left": 4, "laps_per_session": 10, "other_karts": 8} | changes))
        german({*plan.sentences, *(row["lever"] for row in plan.levers)})


def test_readings_are_said_in_german() -> None:
    said: set[str] = set()
    for seed in range(40):
        made = reading_corpus.make(seed)
        reading = lapdelta.read_timing(made.data, name="made.csv")
        said |= {
            *reading.notes,
            *reading.set_aside["reason"],
            *(question.text for question in reading.questions),
        }
        said |= {column["note"] for column in reading.columns if column["note"]}
    german(said)


def test_cautions_are_said_in_german() -> None:
    german(
        {FIRST, *(one.text for one in [*check_list(), *on_track_list()]), *(one.when for one in check_list())}
    )


def test_errors_are_said_in_german(archive: lapdelta.Archive) -> None:
    wrong: list[Any] = [
        lambda: lapdelta.read_timing(b"", name="a.csv"),
        lambda: lapdelta.read_timing(b"%PDF-1.4 ...", name="a.pdf"),
        lambda: ask(archive, event="2025-04-13", before=["P9"], after=["P2"]),
        lambda: ask(archive, event="2025-04-14", before=["P1"], after=["P2"]),
        lambda: ask(archive, event="2025-04-13", kart="99", before=["P1"], after=["P2"]),
        lambda: lapdelta.compare(day(), **(ASKED | {"margin": -1})),
        lambda: lapdelta.compare(day(), **(ASKED | {"measure": "noise"})),
        lambda: plan_test(sessions_left=4, laps_per_session=10, power=7),
        lambda: archive.undo("nothing"),
    ]
    for make in wrong:
        with pytest.raises(LapdeltaError) as raised:
            make()
        german({raised.value.what, raised.value.mend})


@pytest.mark.parametrize(
    ("english", "expected"),
    [
        (
            "Traffic met: 10 % of our way before, 35 % after. Traffic differed; allowed for, as the clocks show it.",
            "Verkehr: auf 10 % unseres Weges vorher, 35 % nachher. Der Verkehr war verschieden; berücksichtigt, "
            "denn die Uhrzeiten zeigen ihn.",
        ),
        (
            "Elms loop: best at about 80.4 teeth, probably between 79 teeth and 82.1 teeth.",
            "Elms loop: am besten bei etwa 80,4 Zähnen, wahrscheinlich zwischen 79 Zähnen und 82,1 Zähnen.",
        ),
        (
            "More than one thing differs (axle teeth, seat): the answer is about all of it together.",
            "Mehr als eines ist verschieden (Zähne auf der Achse, seat): die Antwort gilt für alles zusammen.",
        ),
        (
            "axle 82 -> 81, total weight 150 -> 151.5 kg between P2 and P3",
            "Achse 82 → 81, Gesamtgewicht 150 → 151,5 kg zwischen P2 und P3",
        ),
        ("Elms loop, anticlockwise", "Elms loop, gegen den Uhrzeigersinn"),
        (
            "Elms loop, clockwise: cannot be told: only one value was ever run.",
            "Elms loop, im Uhrzeigersinn: nicht zu sagen: gefahren wurde immer nur ein Wert.",
        ),
        ("no other kart ran in the sessions before the change", "In den Fahrten vor dem Umbau fuhr kein anderes Kart"),
        # Names are never taken for words, whatever stands in them; what is no sentence of ours stays as it is.
        ("There is no event St. Leo. Laps of ours.", "Es gibt keinen Tag St. Leo. Laps of ours."),
        ("The driver hit a kerb.", "The driver hit a kerb."),
        ("Mit dem Umbau war es besser.", "Mit dem Umbau war es besser."),
    ],
)  # fmt: skip
def test_what_is_said(english: str, expected: str) -> None:
    assert in_language(english, "de") == expected
    assert in_language(english, "en") == english


def test_the_table_keeps_every_hole_and_no_sentence_stands_twice() -> None:
    table = _table("de")
    for template in table.holed:
        holes = {hole[1] for hole in _HOLE.finditer(template.english)}
        said = {hole[1] for hole in _HOLE.finditer(template.said)}
        assert said <= holes, template.english
        # A second unit beside the first is the same one; a number may stand in the words ("eine Runde").
        assert {name for name in holes - said if not name.startswith("unit")} <= {"n", "m"}, template.english
        assert not re.search(r"\bweil\b|signifi", template.said), template.said


def test_a_hand_made_reason_passes_through() -> None:
    assert in_language(by_hand.CANNOT_BE_TOLD.reasons[0], "de") == by_hand.CANNOT_BE_TOLD.reasons[0]


@pytest.mark.parametrize("unit", ["bar", "psi", "kg", "lb", "mm", "inch", "C", "F"])
def test_both_sides_of_a_change_have_the_decimal_mark(unit: str) -> None:
    text = f"pressure rear left 8.99 -> 9.86 {unit} between P3 and P4"
    assert in_language(text, "de") == f"Druck hinten links 8,99 → 9,86 {unit} zwischen P3 und P4"
