"""``lapdelta gearing pulled`` asked of an archive: teeth from the setup sheet, or why they cannot be told."""

import polars as pl
import pytest
from command_in_process import command
from sample_archive import DAYS, make_archive

import lapdelta
from lapdelta.asking.pulled import ask_pulled, pair_on_sheet
from lapdelta.errors import QuestionError

EVENT = DAYS[1]


@pytest.fixture
def archive(tmp_path):
    return make_archive(tmp_path / "archive")


def sheet(archive, **teeth):
    """The sheet's rows of our kart with other teeth in some sessions; None empties."""
    kart = "07"
    for session, values in teeth.items():
        row = pl.DataFrame([{"event": EVENT, "session": session, "kart": kart, **values}])
        cleared = [name for name, value in values.items() if value is None]
        archive.put_setups(row.drop(cleared), clear=cleared)
    return archive


def test_teeth_are_those_of_the_sheet_unless_given(archive):
    sheet(archive, P1={"engine_teeth": 11, "axle_teeth": 82}, P2={"engine_teeth": 11, "axle_teeth": 78})
    assert pair_on_sheet(archive, EVENT, "07", ["P1"]) == (11, 82)
    assert pair_on_sheet(archive, EVENT, "07", ["P2"], 10) == (10, 78)
    assert pair_on_sheet(archive, EVENT, "07", ["P2"], 10, 70) == (10, 70)


def test_several_numbers_of_teeth_or_none_are_asked_for(archive):
    sheet(archive, P1={"axle_teeth": 82}, P2={"axle_teeth": 78})
    with pytest.raises(QuestionError) as error:
        pair_on_sheet(archive, EVENT, "07", ["P1", "P2"], 11)
    assert error.value.what == "The setup sheet tells several numbers of axle teeth in P1, P2: 82, 78."
    with pytest.raises(QuestionError) as error:
        pair_on_sheet(archive, EVENT, "99", ["P1", "P2"], 11)
    assert error.value.what == "The setup sheet does not tell the axle teeth in P1, P2."
    assert error.value.mend == "Write it down with lapdelta setup, or give the teeth."
    assert error.value.where == "axle_teeth"


def test_laps_without_speed_and_rpm_say_that_it_cannot_be_told(tmp_path):
    file = tmp_path / "day.csv"
    rows = [
        f"{session},{kart:02},{lap},{60 + kart / 100 + lap / 1000 + (lap * kart) % 7 / 50:.3f},2026-05-16"
        for session in ("P1", "P2", "P3", "P4")
        for kart in range(1, 9)
        for lap in range(1, 10)
    ]
    file.write_text("session,kart,lap,lap time,date\n" + "\n".join(rows) + "\n")
    folder = tmp_path / "archive"
    assert command("import", file, "--archive", folder).status == 0
    found = ask_pulled(
        lapdelta.Archive(folder), before=["P1", "P4"], after=["P2", "P3"], kart="01",
        engine_before=11, engine_after=11, axle_before=82, axle_after=80,
    )  # fmt: skip
    assert (found.top_speed, found.peak_rpm, found.pulled.verdict) == (None, None, "cannot be told")
    assert found.pulled.reasons == ("There is neither a top speed nor a peak rpm to judge by.",)
    assert (found.pair_before, found.pair_after, found.kart) == ((11, 82), (11, 80), "01")
