"""``lapdelta plan``: its numbers, sealed draws that stay sealed, the exact test, and what next."""

import numpy as np
import pytest
from command_in_process import command
from sample_archive import make_archive

import lapdelta
from lapdelta.archive.draws import reveal, seal, sealed_draw
from lapdelta.asking.drawn import answer_drawn
from lapdelta.effect.randomisation import balanced_orders, exact_p_value
from lapdelta.errors import ArchiveError, QuestionError
from lapdelta.parts.box import add_part
from lapdelta.what_next.answer import what_next

EVENT = "2025-05-18"
STATED = ("--session-sd", 0.10, "--lap-sd", 0.30, "--other-karts", 12)


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return make_archive(tmp_path_factory.mktemp("plan") / "archive")


@pytest.fixture
def empty(tmp_path):
    return lapdelta.Archive(tmp_path / "empty")


def test_a_stated_plan_needs_no_archive(tmp_path):
    nowhere = tmp_path / "nowhere"
    found = command("plan", "--sessions-left", 4, *STATED, "--archive", nowhere, "--json").json
    assert not nowhere.exists()
    assert found["recommended"] == "ABBA"
    # SE^2 = (tau^2 + 2.8 sigma^2 / 9)(1/2 + 1/2)(1 + 1/12), nine laps without the out lap (hand calculation)
    error = np.sqrt((0.10**2 + 2.8 * 0.30**2 / 9) * (1 + 1 / 12))
    abba = next(one for one in found["options"] if one["order"] == "ABBA")
    assert abba["standard_error"] == pytest.approx(error)
    assert abba["dof"] == 34
    assert {"first", "cautions", "sentences", "steps", "levers", "event", "kart"} <= set(found)
    assert any("settle" in line for line in found["sentences"])


def test_a_plan_learns_from_the_other_karts_of_the_day(archive):
    words = (
        "plan",
        "--event",
        EVENT,
        "--sessions-left",
        4,
        "--laps",
        12,
        "--archive",
        archive.folder,
        "--json",
    )
    found = command(*words).json
    assert (found["event"], found["kart"]) == (EVENT, "07")
    assert found["noise"]["source"].startswith("taken from the day's own karts")
    fewer = command(*words, "--sessions", "P1", "P2", "P3").json
    assert fewer["noise"] != found["noise"]
    assert (
        command("plan", "--sessions-left", 4, "--archive", archive.folder, "--json").status == 1
    )  # two events


def test_a_plan_learns_from_our_other_days_unless_told_not_to(archive):
    words = ("plan", "--event", EVENT, "--sessions-left", 4, "--archive", archive.folder, "--json")
    usual, day_only = command(*words).json, command(*words, "--no-history").json
    assert usual["learned"]["events"] == ["2025-04-13"]
    assert {"ours", "others", "used", "conflict", "history_dof", "day"} <= set(usual["learned"])
    assert usual["learned"]["used"] is True
    assert usual["noise"]["dof"] > day_only["noise"]["dof"]
    assert day_only["learned"] is None
    assert any("nothing changed" in line for line in usual["sentences"])
    assert not any("nothing changed" in line for line in day_only["sentences"])
    stated = command(*words, "--session-sd", 0.1, "--lap-sd", 0.3).json
    assert stated["noise"]["source"] == "stated"
    assert stated["learned"]["used"] is False
    next_step = what_next(archive, event=EVENT)
    assert next_step.plan is not None
    assert next_step.plan.learned == {**usual["learned"]}
    assert next_step.plan.smallest_effect == usual["smallest_effect"]


def test_looks_are_declared_with_their_thresholds():
    found = command("plan", "--sessions-left", 8, *STATED, "--looks", "half way", "--json").json
    # Lan & DeMets 1983, O'Brien-Fleming kind of spending, 5 % in all
    assert found["looks"] == [[4, 0.0031], [8, 0.0490]]


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (("--sessions-left", 1, *STATED), 1, "outside 2 to 20"),
        (("--sessions-left", 8, *STATED, "--laps", 2), 1, "outside 4 to 200"),
        (("--sessions-left", 8, *STATED, "--margin", -1), 1, "-1"),
        (("--sessions-left", 6, *STATED, "--random-order"), 1, "18 orders"),
        (("--sessions-left", 8, *STATED, "--measure", "joy"), 1, "joy"),
        ((), 2, "--sessions-left"),
        (("--sessions-left", 8, "--random-order", "--draws"), 2, "one thing"),
        (("--next", "nothing"), 1, "no sealed draw"),
    ],
)
def test_errors_name_the_value(tmp_path, words, status, told):
    done = command("plan", *words, "--archive", tmp_path / "archive", "--json")
    assert done.status == status
    assert told in done.json["error"]["what"]


def drawn(archive, *words):
    done = command(
        "plan",
        "--event",
        EVENT,
        "--sessions-left",
        8,
        "--random-order",
        *words,
        "--archive",
        archive.folder,
        "--json",
    )
    assert done.status == 0, done.err
    return done


def test_a_sealed_draw_stays_sealed_until_it_is_told(archive):
    done = drawn(archive, "--seed", 11)
    found = done.json
    name = found["draw"]["draw"]
    order = sealed_draw(archive.folder, name).order
    assert order in balanced_orders(8)
    assert found["recommended"] is None
    assert found["draw"]["orders"] == 66
    assert found["draw"]["smallest_p"] == pytest.approx(2 / 66)
    for sealed in (done.out, command("plan", "--draws", "--archive", archive.folder).out):
        assert order not in sealed
        assert " ".join(order) not in sealed
        assert '"seed"' not in sealed
    for place, letter in enumerate(order, 1):
        told = command("plan", "--next", name, "--archive", archive.folder, "--json").json
        assert (told["session"], told["setting"]) == (place, letter)
        assert told["told"] == list(order[:place])
    assert command("plan", "--next", name, "--archive", archive.folder).status == 1
    assert "told session 8" in archive.history()["what"].to_list()[-1]


def test_plain_text_of_a_sealed_plan_does_not_tell_the_order(archive):
    done = command(
        "plan", "--event", EVENT, "--sessions-left", 8, "--random-order", "--archive", archive.folder
    )
    order = sealed_draw(archive.folder, "last").order
    assert order not in done.out.replace(" ", "")
    assert "--next" in done.out


def test_a_taken_back_draw_is_gone_and_comes_back(empty):
    draw = seal(empty.folder, order="ABBA", orders=["ABBA", "BAAB"], seed=1, measure="lap_time", margin=0.1)
    entry = empty.undo(draw.draw)
    with pytest.raises(ArchiveError, match="no sealed draw"):
        sealed_draw(empty.folder, draw.draw)
    empty.undo(entry)
    assert sealed_draw(empty.folder, draw.draw) == draw


def test_the_exact_test_of_a_draw_counts_over_its_sealed_list(archive):
    name = drawn(archive, "--seed", 5).json["draw"]["draw"]
    early = command("plan", "--test", name, "--archive", archive.folder, "--json")
    assert early.status == 1
    assert "0 of the 8 sessions" in early.json["error"]["what"]
    order = command("plan", "--reveal", name, "--archive", archive.folder, "--json").json["told"]
    found = command("plan", "--test", name, "--archive", archive.folder, "--json").json
    assert found["order"] == "".join(order)
    assert found["sessions"] == [f"P{n}" for n in range(1, 9)]
    paces = np.array(found["adjusted"])
    # counted here anew: Fisher's exact randomisation test over the list
    observed = abs(mean_difference(paces, order))
    every = [abs(mean_difference(paces, other)) for other in balanced_orders(8)]
    assert found["p_value"] == pytest.approx(np.mean([value >= observed - 1e-12 for value in every]))
    assert found["finding"]["before"] == [
        s for s, letter in zip(found["sessions"], order, strict=True) if letter == "A"
    ]
    short = command("plan", "--test", name, "--sessions", "P1", "P2", "--archive", archive.folder, "--json")
    assert "8 sessions; 2 are given" in short.json["error"]["what"]


def mean_difference(paces, order):
    after = np.array([letter == "B" for letter in order])
    return paces[after].mean() - paces[~after].mean()


def test_the_order_that_was_run_is_found_by_the_exact_test(archive):
    """P2, P3, P5, P8 had four teeth fewer, and the sample's truth is a large gain: p is the smallest there is."""
    draw = seal(
        archive.folder, order="ABBABAAB", orders=balanced_orders(8), seed=0, measure="lap_time", margin=0.1,
        event=EVENT, kart="07",
    )  # fmt: skip
    draw = reveal(archive.folder, draw.draw, all_sessions=True)
    found = answer_drawn(archive, draw)
    assert found.p_value == pytest.approx(found.smallest_p)
    assert found.difference < 0
    with pytest.raises(QuestionError, match="8 sessions"):
        answer_drawn(archive, draw, sessions=["P1"] * 8)


def test_the_tomato_plants_sealed_and_tested(empty):
    # Box, Hunter & Hunter, Statistics for Experimenters: 11 plants, order AABBABBBAAB drawn from all 462 with
    # five B; 154 differences at least as large (33 %) (data read in a stored copy, recomputed)
    import itertools

    pounds = [29.9, 11.4, 26.6, 23.7, 25.3, 28.5, 14.2, 17.9, 16.5, 21.1, 24.3]
    orders = [
        "".join("A" if place in chosen else "B" for place in range(11))
        for chosen in itertools.combinations(range(11), 5)
    ]
    seal(empty.folder, order="AABBABBBAAB", orders=orders, seed=1, measure="lap_time", margin=0.1)
    draw = sealed_draw(lapdelta.Archive(empty.folder).folder, "last")
    assert len(draw.orders) == 462
    assert exact_p_value(pounds, draw.order, draw.orders, "greater") == pytest.approx(154 / 462)


def test_what_next_joins_answer_pull_box_chain_and_plan(archive):
    bare = what_next(archive, event=EVENT, sessions_left=2)
    assert bare.step is None
    assert any("in the box" in line for line in bare.why_not)
    add_part(archive, "engine 11", "engine sprocket", 11, 7.774)
    for teeth in (76, 78, 80, 84):
        add_part(archive, f"axle {teeth}", "axle sprocket", teeth, 7.774)
    add_part(archive, "chain 104", "chain", 104, 7.774)
    words = ("plan", "--what-next", "--event", EVENT, "--slots", 200, 230, "--archive", archive.folder)
    before = command(*words, "--json").json
    assert before["step"]["reaches"] is None  # nobody wrote the chain down
    command("setup", EVENT, "P8", "links=104", "pitch=7.774", "--archive", archive.folder)
    found = command(*words, "--json").json
    # 84 -> 80 was faster: on from 80, at least as far again, with the chain that is on the kart
    assert (found["base"]["engine_teeth"], found["base"]["axle_teeth"]) == (11, 80)
    assert (found["step"]["engine_teeth"], found["step"]["axle_teeth"]) == (11, 76)
    assert found["step"]["reaches"] is True
    assert found["step"]["chain"]["links"] == 104
    assert found["pulled"]["verdict"] in {"fully", "partly"}
    assert found["plan"]["expected"] == found["expectation"]["surprising_beyond_s"]
    command("units", "inch", "--archive", archive.folder)
    # 1 inch = 25.4 mm, exact: 200 to 230 mm are 7.87402 to 9.05512 inch
    words_in_inches = [{"200": "7.87402", "230": "9.05512"}.get(str(word), word) for word in words]
    inches = command(*words_in_inches, "--json").json
    assert (inches["step"]["axle_teeth"], inches["step"]["reaches"]) == (76, True)
    command("units", "mm", "--archive", archive.folder)
    narrow = what_next(archive, event=EVENT, slots_mm=(205.0, 212.0))
    reaching = {one.axle_teeth: one.reaches for one in narrow.steps}
    # 104 links round 11/84 stand at 198.7 mm, round 11/78 at about 215 mm: both outside these slots
    assert reaching == {76: False, 78: False, 84: False}
    assert narrow.step is None
    assert any("no taller gear that reaches" in line for line in narrow.why_not)
    text = command(*words).out
    for part in ("That is a test, not the best gear", "maker's manual", "class rules", "Run A B B A"):
        assert part in text
    back = what_next(archive, event=EVENT, direction="shorter", sessions_left=0)
    assert back.plan is None
    assert back.step is not None
    assert back.step.direction == "shorter"
    faster = what_next(archive, event=EVENT, measure="top_speed", sessions_left=0)
    assert (
        faster.finding.verdict == "faster"
    )  # that alone makes no lap: neither a gear to keep nor a way to go on
    assert faster.step is None
    assert any("Say which way to go" in line for line in faster.why_not)
    single = what_next(archive, event=EVENT, sessions_left=1)
    assert single.plan is None
    assert single.finding is not None
    assert any("One session is no test" in line for line in single.sentences)
