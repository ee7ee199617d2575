"""The sprocket box: laps, kilometres and cost against what the archive holds; errors that name the value."""

import shutil
from datetime import date

import polars as pl
import pytest
from command_in_process import command
from sample_archive import DAYS, make_archive

import lapdelta
from lapdelta.errors import ArchiveError
from lapdelta.gearing import GearingError, Part
from lapdelta.parts.box import add_part, retire_part, set_lap_length, sprockets_in_box
from lapdelta.parts.charged import box
from lapdelta.what_next.steps import Fitted, next_step, steps_from_box
from lapdelta.words import in_language

OLD, NEW = DAYS
PITCH = 7.774


@pytest.fixture(scope="module")
def original(tmp_path_factory):
    found = make_archive(tmp_path_factory.mktemp("parts") / "archive")
    add_part(found, "eleven", "engine sprocket", 11, PITCH, price=12.0)
    for teeth in (80, 82, 84):
        add_part(found, f"axle {teeth}", "axle sprocket", teeth, PITCH, price=24.5)
    return found.folder


@pytest.fixture
def archive(original, tmp_path):
    """A copy, so that no test sees another's changes."""
    return lapdelta.Archive(shutil.copytree(original, tmp_path / "archive"))


def laps_on(archive, event, **fitted):
    """Counted here with plain polars: our laps, out and in laps too, in sessions with that on the sheet."""
    sheet = archive.setups.filter(pl.col("event") == event, pl.col("kart") == "07")
    for column, value in fitted.items():
        sheet = sheet.filter(pl.col(column) == value)
    laps = archive.laps(event).filter(
        pl.col("kart") == "07", pl.col("session").is_in(sheet["session"].implode())
    )
    return laps.height


def wear_of(found, name):
    return next(one for one in found.wear if one.part.name == name)


def test_laps_kilometres_and_cost_come_from_the_archive(archive):
    set_lap_length(archive, "event", NEW, 900.0)
    found = box(archive)
    eighty = wear_of(found, "axle 80")
    assert eighty.laps == laps_on(archive, NEW, axle_teeth=80) > 0
    assert eighty.distance_km == pytest.approx(eighty.laps * 0.9)
    assert eighty.cost_per_100_laps == pytest.approx(24.5 / eighty.laps * 100)
    both = wear_of(found, "axle 84")
    assert both.laps == sum(laps_on(archive, day, axle_teeth=84) for day in DAYS)
    assert both.laps_without_length == laps_on(archive, OLD, axle_teeth=84)
    assert found.without_length == (OLD,)
    assert not found.unclear
    every = sum(laps_on(archive, day) for day in DAYS)
    assert wear_of(found, "eleven").laps == every
    assert found.worn_together[0][2] == max(wear_of(found, f"axle {n}").laps for n in (80, 82, 84))


def test_laps_set_aside_by_hand_wear_as_well(archive):
    before = wear_of(box(archive), "axle 80").laps
    archive.set_aside_laps(NEW, "P2", "07")
    assert wear_of(box(archive), "axle 80").laps == before


def test_a_track_length_holds_for_its_events_and_an_event_has_its_own(archive):
    for day in DAYS:
        archive.put_event(day, track="Moorfield")
    set_lap_length(archive, "track", "Moorfield", 1000.0)
    assert box(archive).without_length == ()
    laps = {day: laps_on(archive, day) for day in DAYS}
    assert wear_of(box(archive), "eleven").distance_km == pytest.approx(sum(laps.values()))
    set_lap_length(archive, "event", OLD, 500.0)
    assert wear_of(box(archive), "eleven").distance_km == pytest.approx(0.5 * laps[OLD] + laps[NEW])


def test_two_alike_are_told_apart_by_the_sheet_or_left_unclear(archive):
    add_part(archive, "eighty red", "axle sprocket", 80, PITCH)
    found = box(archive)
    assert wear_of(found, "axle 80").laps == wear_of(found, "eighty red").laps == 0
    (unclear,) = found.unclear
    assert unclear.sessions == ("P2", "P3", "P5", "P8")
    assert unclear.laps == laps_on(archive, NEW, axle_teeth=80)
    assert "axle_part=NAME" in unclear.reason
    command("setup", NEW, "P2", "axle_part=eighty red", "--archive", archive.folder)
    found = box(archive)
    assert wear_of(found, "eighty red").laps > 0
    assert found.unclear[0].sessions == ("P3", "P5", "P8")


def test_a_part_wears_only_while_it_is_in_use(archive):
    add_part(archive, "eighty new", "axle sprocket", 80, PITCH, bought=date(2025, 5, 1))
    retire_part(archive, "axle 80", date(2025, 4, 30))
    found = box(archive)
    assert wear_of(found, "axle 80").laps == 0
    assert wear_of(found, "eighty new").laps == laps_on(archive, NEW, axle_teeth=80)
    retire_part(archive, "axle 82", None)
    assert sprockets_in_box(archive).axle_teeth == (80, 84)


def test_adding_can_be_taken_back_and_names_are_unique(archive):
    entry = add_part(archive, "spare", "chain", 104, PITCH)
    with pytest.raises(ArchiveError, match="of that name already"):
        add_part(archive, "spare", "chain", 106, PITCH)
    archive.undo(entry)
    assert "spare" not in [one.part.name for one in box(archive).parts]
    add_part(archive, "spare", "chain", 106, PITCH)
    assert box(archive).parts[-1].part.size == 106


def test_pitches_do_not_mix(archive):
    add_part(archive, "other engine", "engine sprocket", 12, 9.525)
    with pytest.raises(ArchiveError, match=r"7\.774, 9\.525 mm"):
        sprockets_in_box(archive)
    assert sprockets_in_box(archive, PITCH).engine_teeth == (11,)
    with pytest.raises(ArchiveError, match="no axle sprocket"):
        sprockets_in_box(archive, 9.525)


def test_the_command_lists_adds_retires_and_feeds_the_pairs(tmp_path):
    to = ("--archive", tmp_path / "archive")
    add = ("parts", "add")
    assert "empty" in command("parts", *to).out
    assert command("gearing", "pairs", *to, "--json").status == 1
    done = command(*add, "ten", "--kind", "engine sprocket", "--teeth", 10, "--pitch", "3/8in", *to, "--json")
    assert set(done.json) == {"entry", "name", "what", "notes"}
    command(*add, "80", "--kind", "axle sprocket", "--teeth", 80, "--pitch", 9.525, "--price", 20, *to)
    command(*add, "chain", "--kind", "chain", "--links", 104, "--pitch", 9.525, "--bought", "2025-03-01", *to)
    found = command("parts", "--json", *to).json
    keys = {
        "name",
        "kind",
        "size",
        "pitch_mm",
        "price",
        "laps",
        "distance_km",
        "cost_per_100_laps",
        "bought",
        "retired",
    }
    assert keys <= set(found["parts"][0])
    assert [one["size"] for one in found["parts"]] == [10, 80, 104]
    assert found["parts"][2]["bought"] == "2025-03-01"
    pairs = command("gearing", "pairs", *to, "--json").json["pairs"]
    assert [(one["engine_teeth"], one["axle_teeth"]) for one in pairs] == [(10, 80)]
    assert command("parts", "retire", "chain", "--on", "2025-06-01", *to).status == 0
    assert command("parts", "list", "--json", *to).json["parts"][2]["retired"] == "2025-06-01"
    assert command("parts", "lap-length", "0.9km", "--track", "Moorfield", *to).status == 0


def test_a_lap_length_of_a_track_that_no_event_has_is_kept_and_said(archive):
    archive.put_event(OLD, track="Moorfield")
    say = ("parts", "lap-length", 900, "--archive", archive.folder, "--json")
    assert command(*say, "--track", "Moorfield").json["notes"] == []
    (near,) = command(*say, "--track", "moorfeild").json["notes"]
    assert "No event has the track moorfeild yet" in near
    assert "Did you mean Moorfield?" in near
    (far,) = command(*say, "--track", "Sandpit").json["notes"]
    assert "Tracks known: Moorfield, " in far
    (event,) = command(*say, "--event", f"{NEW}x").json["notes"]
    assert f"Did you mean {NEW}" in event
    begun = command(*say, "--event", NEW[:7]).json
    assert (begun["name"], begun["notes"]) == (f"event {NEW}", [])
    text = command("parts", "lap-length", 900, "--archive", archive.folder, "--track", "Sandpit").out
    assert "No event has the track Sandpit yet" in text


@pytest.mark.parametrize(
    ("words", "status", "told"),
    [
        (("add", "x", "--kind", "axle sprocket", "--teeth", 82.5, "--pitch", 7.774), 1, "82.5 teeth"),
        (("add", "x", "--kind", "axle sprocket", "--teeth", 5, "--pitch", 7.774), 1, "6 or more"),
        (("add", "x", "--kind", "chain", "--links", 104, "--pitch", 77.74), 1, "4 to 20 mm"),
        (
            ("add", "x", "--kind", "chain", "--links", 104, "--pitch", 7.774, "--price", -3),
            1,
            "0 to 1000000000",
        ),
        (("add", " ", "--kind", "chain", "--links", 104, "--pitch", 7.774), 1, "needs a name"),
        (("retire", "nobody"), 1, "no such part"),
        (("lap-length", 5, "--track", "t"), 1, "10 to 30000 m"),
        (("add", "x", "--kind", "chain", "--teeth", 104, "--pitch", 7.774), 2, "--links"),
        (("lap-length", 900), 2, "--track or --event"),
        (("add", "x", "--kind", "wheel", "--teeth", 10, "--pitch", 7.774), 2, "wheel"),
    ],
)
def test_bad_input_names_the_value(tmp_path, words, status, told):
    done = command("parts", *words, "--archive", tmp_path / "archive", "--json")
    assert done.status == status
    assert told in done.json["error"]["what"] + done.json["error"]["mend"]


def test_steps_keep_the_engine_sprocket_and_say_what_reaches():
    fitted = Fitted(11, 82, 104, PITCH)
    chains = [Part("long", "chain", 110, PITCH)]
    steps = steps_from_box(fitted, [10, 11], [80, 82, 88], chains, (200.0, 215.0))
    by_pair = {(one.engine_teeth, one.axle_teeth): one for one in steps}
    # 10/80 and 11/88 are the same gear: the one that keeps the engine sprocket is offered
    assert (11, 88) in by_pair
    assert (10, 80) not in by_pair
    assert [one.taller_percent for one in steps] == sorted(
        (one.taller_percent for one in steps), reverse=True
    )
    # 104 links: 82 teeth at 204.308 mm, 80 teeth at 209.764 mm, exact
    assert by_pair[11, 80].slide_mm == pytest.approx(209.764 - 204.308, abs=2e-3)
    assert by_pair[11, 80].reaches is True
    assert by_pair[11, 80].axle_teeth_equivalent == pytest.approx(-2)
    assert next_step(steps, "taller", 2.0) == by_pair[11, 80]
    assert next_step(steps, "taller", 5.0) == by_pair[11, 80]  # the largest there is


def test_one_tooth_is_said_as_one():
    one, two = steps_from_box(Fitted(11, 82, 104, PITCH), [11], [80, 81, 82])[::-1]
    assert "like 1 axle tooth fewer" in one.sentence
    assert "like 2 axle teeth fewer" in two.sentence
    assert in_language(one.sentence, "de").startswith(
        "11/81: 1,2 % länger, wie 1 Zahn weniger auf der Achse."
    )


def test_chains_of_another_pitch_alone_tell_nothing_of_the_reach():
    other = [Part("other", "chain", 104, 9.525)]
    (step,) = steps_from_box(Fitted(11, 82, None, PITCH), [11], [80, 82], other, (200.0, 215.0))
    assert step.reaches is None
    assert "cannot be told" in step.sentence
    assert next_step([step], "taller", 2.0) == step


def test_a_chain_that_does_not_go_round_does_not_reach():
    (step,) = steps_from_box(Fitted(11, 60, 70, PITCH), [11], [60, 90])
    assert step.reaches is False
    assert "goes round" in step.sentence
    assert next_step([step], "shorter", 1.0) is None
    with pytest.raises(GearingError, match="6 or more"):
        steps_from_box(Fitted(11, 82, 104, PITCH), [11], [0])
