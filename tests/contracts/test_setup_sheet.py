"""The setup sheet: what is typed is understood or refused with the reason, and nothing typed is lost."""

import csv
import io
from pathlib import Path
from typing import Any

import polars as pl
import pytest
from command_in_process import command

from lapdelta.archive.export import csv_ready
from lapdelta.errors import SetupError
from lapdelta.setups import (
    differences,
    parse_setup,
    proposed_questions,
    read_setup_csv,
    same_as_before,
    say_difference,
    setup_row,
    write_setup_csv,
)
from lapdelta.setups.compared import say_changes
from lapdelta.setups.fields import number
from lapdelta.tables import SETUPS
from lapdelta.words import in_language

EVENT = "2026-05-16"


def sheet(*rows: dict[str, Any]) -> pl.DataFrame:
    """Rows of a setup sheet for kart 07."""
    full = [{**dict.fromkeys(SETUPS), "event": EVENT, "kart": "07", **row} for row in rows]
    return pl.DataFrame(full, schema=SETUPS)


# NIST SP 811 (2008), appendix B.8: psi to Pa 6.894 757 E+03, pound to kg 4.535 924 E-01, inch to m 2.54 E-02,
# degree Fahrenheit to Celsius (t - 32)/1.8. Seven digits are printed.
@pytest.mark.parametrize(
    ("typed", "column", "value"),
    [
        ("front_left=10psi", "pressure_front_left_bar", 0.6894757),
        ("front_left=62 kPa", "pressure_front_left_bar", 0.62),
        ("front_left=0,62 bar", "pressure_front_left_bar", 0.62),
        ("front_left_psi=10", "pressure_front_left_bar", 0.6894757),
        ("weight=100 lb", "total_weight_kg", 45.35924),
        ("pitch=0.3in", "chain_pitch_mm", 7.62),
        ('pitch=0.3"', "chain_pitch_mm", 7.62),
        ("pitch=3/8in", "chain_pitch_mm", 9.525),
        ("air=70F", "air_temperature_c", 21.11111),
        ("air=-4 °F", "air_temperature_c", -20.0),
        ("track_temp=31.5", "track_temperature_c", 31.5),
    ],
)
def test_units(typed: str, column: str, value: float) -> None:
    assert parse_setup(typed) == {column: pytest.approx(value, rel=1e-7)}


def test_a_unit_behind_two_pressures_is_that_of_both() -> None:
    # psi to Pa as above
    psi = 0.06894757
    for typed, left, right in (
        ("9/9.2psi", 9 * psi, 9.2 * psi),
        ("9psi/0.60", 9 * psi, 0.60),
        ("0.6/0.62", 0.6, 0.62),
    ):
        row = parse_setup(f"front={typed}")
        assert row["pressure_front_left_bar"] == pytest.approx(left, rel=1e-6)
        assert row["pressure_front_right_bar"] == pytest.approx(right, rel=1e-6)


def test_headers_that_are_no_columns_are_kept_and_said(tmp_path: Path) -> None:
    (tmp_path / "sheet.csv").write_text("event,session,kart,Achse,axel\n2026-05-16,P1,07,82,82\n")
    done = command("setup", "--from", tmp_path / "sheet.csv", "--archive", tmp_path / "archive")
    assert "Achse is no column of the setup sheet; it is kept as typed." in done.out
    assert "axel is no column of the setup sheet; it is kept as typed. Nearest column: axle." in done.out


def test_plain_words_and_whole_values() -> None:
    typed = (
        "axle=81 engine=11 front=0.62 rear=0.60/0.65 tyres=set B notes=went wide in turn 3 jet=128 Seat=mid"
    )
    assert parse_setup(typed) == {
        "axle_teeth": 81,
        "engine_teeth": 11,
        "pressure_front_left_bar": 0.62,
        "pressure_front_right_bar": 0.62,
        "pressure_rear_left_bar": 0.60,
        "pressure_rear_right_bar": 0.65,
        "tyre_set": "set B",
        "notes": "went wide in turn 3",
        "other": [{"key": "jet", "value": "128"}, {"key": "Seat", "value": "mid"}],
    }
    assert parse_setup(["axle teeth=81", "notes=a=b"]) == {"axle_teeth": 81, "notes": "a=b"}
    assert parse_setup('notes="jet=128 felt rich" axle=81') == {
        "notes": "jet=128 felt rich",
        "axle_teeth": 81,
    }
    assert parse_setup("ballast=") == {"ballast_kg": None}


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("axle=3", "axle = 3 cannot be. Give a whole number from 6 to 150."),
        ("axle=81.5", "81.5 is not a whole number for axle."),
        ("axle=eighty", "'eighty' is not a number for axle."),
        (
            "front=9",
            "pressure front left = 9 cannot be. Give from 0.2 to 3.5 bar; units: bar, psi, kPa, mbar.",
        ),
        ("front=0.6 kg", "'kg' is not a unit for pressure front left."),
        ("air=1e999", "air temperature = 1e999 cannot be. Give from -30 to 60 C; units: C, F."),
        ("axle=81 axle=82", "axle_teeth is given twice: 81 and 82."),
        ("felt loose", "'felt loose' is not key=value."),
        ("kart=7", "'kart' cannot be set like this."),
    ],
)
def test_what_cannot_be_is_refused_with_value_and_range(typed: str, said: str) -> None:
    with pytest.raises(SetupError) as caught:
        parse_setup(typed)
    assert said in str(caught.value)


def test_row_for_the_archive_holds_only_what_was_said() -> None:
    row = setup_row(EVENT, "P1", "07", parse_setup("axle=81 ballast="))
    assert row.columns == ["event", "session", "kart", "axle_teeth"]


def test_same_as_before_except() -> None:
    before = sheet(
        {
            "session": "P1",
            "axle_teeth": 82,
            "tyre_laps": 12,
            "track_state": "wet",
            "notes": "slid",
            "other": [{"key": "jet", "value": "128"}, {"key": "seat", "value": "mid"}],
        },
        {"session": "P10", "axle_teeth": 79},
    )
    filled = same_as_before(before, ["P1", "P2", "P10"], EVENT, "P2", "07", parse_setup("axle=81 jet=130"))
    assert filled == {
        "axle_teeth": 81,
        "other": [{"key": "jet", "value": "130"}, {"key": "seat", "value": "mid"}],
    }
    assert same_as_before(before, [], EVENT, "P11", "07") == {"axle_teeth": 79}
    with pytest.raises(SetupError, match="No session before P1 has an entry for kart 07"):
        same_as_before(before, ["P1", "P2"], EVENT, "P1", "07")
    with pytest.raises(SetupError, match="kart 12"):
        same_as_before(before, ["P1", "P2"], EVENT, "P2", "12")


def test_differences_between_two_groups_of_sessions() -> None:
    setups = sheet(
        {
            "session": "P1",
            "axle_teeth": 82,
            "fuel": "A",
            "notes": "x",
            "other": [{"key": "jet", "value": "128"}],
        },
        {
            "session": "P2",
            "axle_teeth": 81,
            "fuel": "A",
            "notes": "y",
            "other": [{"key": "jet", "value": "130"}],
        },
        {"session": "P3", "axle_teeth": 81, "total_weight_kg": 145.0},
        {"session": "P4", "axle_teeth": 82, "fuel": "A"},
    )
    found = differences(setups, EVENT, "07", ["P1", "P4"], ["P2", "P3"])
    assert found == [
        {"item": "axle_teeth", "before": [82], "after": [81]},
        {"item": "jet", "before": ["128"], "after": ["130"]},
    ]
    assert [say_difference(item) for item in found] == ["axle 82 -> 81", "jet 128 -> 130"]
    assert differences(setups, EVENT, "07", ["P1"], ["P4"]) == []
    assert differences(setups, EVENT, "12", ["P1"], ["P2"]) == []


def test_questions_propose_themselves() -> None:
    setups = sheet(
        {"session": "P1", "axle_teeth": 82},
        {"session": "P2", "axle_teeth": 82},
        {"session": "P3", "axle_teeth": 81},
        {"session": "P5", "axle_teeth": 82},
        {"session": "P6", "axle_teeth": 82, "pressure_front_left_bar": 0.6},
    )
    found = proposed_questions(setups, ["P1", "P2", "P3", "P4", "P5", "P6"], EVENT, "07")
    assert [item["text"] for item in found] == ["axle 82 -> 81 between P2 and P3"]
    assert found[0]["before"] == ["P1", "P2", "P5"]
    assert found[0]["after"] == ["P3"]


def test_csv_that_a_spreadsheet_wrote_is_understood() -> None:
    lines = (
        "\ufeffEvent;Session;Kart;Axle;Front psi;Jet;Notes",
        ";P1;07;82;10;128;",
        ";;;;;;",
        ";P2;07;81;;;fast",
    )
    text = "\r\n".join(lines)
    frame = read_setup_csv(text.encode(), event=EVENT)
    assert frame.select("event", "session", "kart", "axle_teeth").rows() == [
        (EVENT, "P1", "07", 82),
        (EVENT, "P2", "07", 81),
    ]
    assert frame["pressure_front_right_bar"].to_list() == [pytest.approx(0.6894757), None]
    assert frame["other"].to_list() == [[{"key": "Jet", "value": "128"}], None]


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("session,kart\nP1,07\n", "line 2: This row has no event."),
        ("event,session,kart,axle\nE,P1,07,3\n", "line 2, column axle: axle = 3 cannot be."),
        ("event,session,kart\nE,P1,07,82\n", "line 2: This row has 4 cells under 3 headers."),
        ("event,session,kart,axle\nE,P1,07,82\nE,P1,07,83\n", "The setup sheet has two entries for E P1 07."),
        (
            "event,session,kart,axle,rear_sprocket\nE,P1,07,82,83\n",
            "line 2: axle_teeth is given twice: 82 and 83.",
        ),
        ("event,session,kart\n", "There is no row in this setup sheet."),
        ("", "There is no row in this setup sheet."),
        ('event,session,kart\n"E,P1,07\n', "This is not a CSV file"),
    ],
)
def test_csv_errors_name_the_place(text: str, said: str) -> None:
    with pytest.raises(SetupError) as caught:
        read_setup_csv(text.encode())
    assert said in str(caught.value)


def test_csv_that_is_no_text_or_not_there(tmp_path: Path) -> None:
    with pytest.raises(SetupError, match="not UTF-8"):
        read_setup_csv(b"\xff\xfe\x00")
    with pytest.raises(SetupError, match="cannot be read"):
        read_setup_csv(tmp_path / "none.csv")


def test_csv_cannot_start_a_formula() -> None:
    rows = sheet({"session": "P1", "notes": "=1+1", "fuel": "-x", "other": [{"key": "=a", "value": "@b"}]})
    text = write_setup_csv(rows)
    cells = [cell for line in text.splitlines() for cell in line.split(",")]
    assert not [cell for cell in cells if cell[:1] in "=+-@" and cell]
    assert read_setup_csv(text.encode())["notes"].to_list() == ["=1+1"]


@pytest.mark.parametrize("text", ["\t=1", "\r=1", "\n=1", "＝1+1", "＋1", "－1", "＠SUM(1)", "'=1"])
def test_no_form_of_a_formula_goes_out_and_each_comes_back(text: str) -> None:
    # The characters are those of OWASP's page "CSV Injection", from memory.
    out = write_setup_csv(sheet({"session": "P1", "notes": text}))
    (row,) = csv.DictReader(io.StringIO(out, newline=""))
    assert row["notes"] == f"'{text}"
    assert read_setup_csv(out.encode())["notes"].to_list() == [text]
    exported = csv_ready(pl.DataFrame({"notes": [text]}))["notes"].to_list()
    assert exported == [f"'{text}"]


def test_tyres_of_one_axle_that_changed_alike_are_said_once() -> None:
    def change(item: str, before: float, after: float) -> dict[str, object]:
        return {"item": f"pressure_{item}_bar", "before": [before], "after": [after]}

    alike = [
        change("rear_left", 0.62, 0.68),
        change("rear_right", 0.62, 0.68),
        change("front_left", 0.6, 0.5),
    ]
    assert say_changes(alike) == ["rear pressure 0.62 -> 0.68 bar", "pressure front left 0.6 -> 0.5 bar"]
    apart = [change("rear_left", 0.62, 0.68), change("rear_right", 0.62, 0.66)]
    assert say_changes(apart) == [
        "pressure rear left 0.62 -> 0.68 bar",
        "pressure rear right 0.62 -> 0.66 bar",
    ]
    assert in_language("rear pressure 0.62 -> 0.68 bar", "de") == "Druck hinten 0,62 → 0,68 bar"


def test_what_can_be_is_said_in_the_unit_that_was_typed():
    with pytest.raises(SetupError) as refused:
        number("pressure_front_left_bar", "90 psi")
    # 1 psi = 6894.757 Pa (NIST SP 811): 0.2 and 3.5 bar are 2.9 and 50.8 psi.
    assert "Give from 2.9 to 50.8 psi" in refused.value.mend
    with pytest.raises(SetupError, match="cannot be") as refused:
        number("air_temperature_c", "900 F")
    assert "Give from -22 to 140 F" in refused.value.mend
