"""``lapdelta gearing``: keys with units, numbers unrounded, errors that name the value and the range."""

import math

import pytest
from command_in_process import command
from sample_archive import make_archive

DRIVE = ("--engine", 11, "--axle", 82, "--pitch", 7.774)
EVENT = "2025-05-18"


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    return make_archive(tmp_path_factory.mktemp("gearing") / "archive").folder


def test_chain_by_links_prints_both_centre_distances():
    # Exact: wraps counted in teeth, spans as tangents of the pitch circles (computed twice, independently).
    # Handbook: C = p/4 (B + sqrt(B^2 - 8 ((N2 - N1) / 2 pi)^2)), B = L - (N1 + N2) / 2 (chain makers' pages).
    found = command("gearing", "chain", *DRIVE, "--links", 104, "--json").json
    straight = 104 - (11 + 82) / 2
    by_hand = 7.774 / 4 * (straight + math.sqrt(straight**2 - 8 * (71 / (2 * math.pi)) ** 2))
    assert found["centre_distance_mm"] == pytest.approx(204.308, abs=5e-4)
    assert found["centre_distance_handbook_mm"] == pytest.approx(by_hand, abs=1e-9)
    assert found["centre_distance_handbook_mm"] == pytest.approx(204.648, abs=5e-4)
    assert found["needs_offset_link"] is False
    assert found["within_slots"] is None
    assert len(repr(found["centre_distance_mm"])) > 10  # unrounded


def test_long_and_short_spellings_and_inches_are_the_same():
    short = command(
        "gearing", "chain", *DRIVE, "--links", 104, "--slots", 190, 210, "--centre", 203, "--json"
    )
    words = ("--engine-teeth", 11, "--axle-teeth", 82, "--pitch-mm", "7.774 mm", "--links", 104)
    longer = command(
        "gearing", "chain", *words, "--slots-mm", "19cm", "21 cm", "--centre-mm", "203", "--json"
    )
    assert longer.json == short.json
    inches = command(
        "gearing", "chain", "--engine", 20, "--axle", 63, "--pitch", "3/8in", "--centre", "13.5in", "--json"
    )
    # a chain maker's engineering page: 20/63 teeth, 36 pitches between centres: 114.8 pitches
    assert inches.json["length_handbook_pitches"] == pytest.approx(114.8, abs=0.05)
    assert inches.json["pitch_mm"] == pytest.approx(9.525)
    assert inches.json["even_links"] == 116


def test_chain_by_centre_and_slots():
    found = command("gearing", "chain", *DRIVE, "--centre", 220, "--slots", 195, 215, "--json").json
    # the formula at 220 mm: 107.611 pitches; exact 107.674
    assert found["length_pitches"] == pytest.approx(107.674, abs=5e-4)
    assert found["length_handbook_pitches"] == pytest.approx(107.611, abs=5e-4)
    assert found["even_links"] == 108
    assert [one["links"] for one in found["links_that_fit"]] == [102, 104, 106]
    assert all(195 <= one["centre_distance_mm"] <= 215 for one in found["links_that_fit"])
    assert "centre_distance_mm" not in found
    german = command("gearing", "chain", *DRIVE, "--slots", 195, 200, "--language", "de").out
    assert "passen: 102 (195,7 mm zwischen den Mitten)." in german


def test_slide_slack_wear_alignment_clearance_when_given():
    found = command(
        "gearing", "chain", *DRIVE, "--links", 104, "--axle-after", 81, "--slots", 200, 206, "--play-mm", 12,
        "--measured-mm", 390, "--measured-links", 50, "--offset-mm", 0.5, "--tyre-diameter-mm", 274, "--json",
    ).json  # fmt: skip
    # 207.053 - 204.308 mm: one tooth fewer lets the engine go 2.7 mm back
    assert found["engine_slide_mm"] == pytest.approx(2.745, abs=1e-3)
    assert found["within_slots"] is True
    assert found["within_slots_after"] is False
    assert found["slack"]["movement_percent"] == pytest.approx(100 * 12 / 204.308, abs=1e-3)
    # 200 / N percent above 67 teeth (two chain makers' engineering pages)
    assert found["wear"]["limit_percent"] == pytest.approx(200 / 82)
    assert found["wear"]["elongation_percent"] == pytest.approx(100 * (390 / (50 * 7.774) - 1))
    # parallel within 1 in 300 (a general industrial chain guide)
    assert found["alignment"]["parallel_allowance_mm"] == pytest.approx(204.308 / 300, abs=1e-4)
    assert found["clearance"]["clearance_mm"] == pytest.approx(137 - (202.962 + 7.774) / 2, abs=1e-3)


def test_speed_both_ways_and_in_miles():
    there = command(
        "gearing", "speed", "--engine", 11, "--axle", 82, "--circumference", "860mm", "--rpm", 13500, "--json"
    ).json
    assert there["speed_kmh"] == pytest.approx(13500 * 11 / 82 * 0.860 * 60 / 1000)
    assert there["percent_per_axle_tooth"] == pytest.approx(-100 / 82)
    back = command(
        "gearing", "speed", "--engine", 11, "--axle", 82, "--circumference-m", 0.86,
        "--speed", f"{there['speed_kmh'] / 1.609344} mph", "--json",
    ).json  # fmt: skip
    assert back["rpm"] == pytest.approx(13500)


def test_pairs_from_words_mark_equal_ratios_and_find_a_wish():
    found = command("gearing", "pairs", "--engine", 10, 11, "--axle", "79-81", 88, "--fitted", 11, 81,
                    "--taller", 1.2, "--json").json  # fmt: skip
    assert len(found["pairs"]) == 8
    ratios = [one["ratio"] for one in found["pairs"]]
    assert ratios == sorted(ratios)
    same = {(one["engine_teeth"], one["axle_teeth"]): one["same_as"] for one in found["pairs"]}
    assert same[10, 80] == [[11, 88]]
    assert (found["nearest"]["engine_teeth"], found["nearest"]["axle_teeth"]) == (11, 80)
    assert found["nearest"]["taller_percent"] == pytest.approx(100 * (81 / 80 - 1))


def test_pulled_from_plain_numbers():
    # g = ln(82/81); 96.0 -> 96.9 km/h, .25 each: kappa .76 +- .30 (hand calculation)
    found = command(
        "gearing", "pulled", "--engine", 11, "--axle", 82, "--axle-after", 81, "--speed-before", 96,
        "--speed-after", 96.9, "--speed-error", 0.25 * math.sqrt(2), "--json",
    ).json  # fmt: skip
    assert found["speed"]["kappa"] == pytest.approx(math.log(96.9 / 96) / math.log(82 / 81))
    assert found["speed"]["standard_error"] == pytest.approx(0.30, abs=0.005)
    assert found["pair_before"] == [11, 82]
    assert found["pair_after"] == [11, 81]
    assert found["rpm"] is None


def test_pulled_from_the_archive_takes_teeth_from_the_sheet(archive):
    words = ("--event", EVENT, "--before", "P1", "P4", "P6", "P7", "--after", "P2", "P3", "P5", "P8")
    found = command("gearing", "pulled", *words, "--archive", archive, "--json").json
    finding = command("compare", *words, "--measure", "top_speed", "--archive", archive, "--json").json
    assert (found["pair_before"], found["pair_after"], found["kart"]) == ([11, 84], [11, 80], "07")
    assert found["top_speed_finding"] == finding
    ours = [cell["pace"] for cell in finding["cells"] if cell["ours"] and cell["setting"] == "before"]
    level = sum(ours) / len(ours)
    kappa = math.log((level + finding["estimate"]) / level) / math.log(84 / 80)
    assert found["speed"]["kappa"] == pytest.approx(kappa)
    assert found["verdict"] in {"fully", "partly", "not", "cannot be told"}


def test_expect_is_a_range_that_names_its_inputs():
    found = command(
        "gearing", "expect", "--engine", 11, "--axle", 82, "--axle-after", 81, "--mass", "300 lb", "--json"
    ).json
    assert found["inputs_given"] == ["mass_kg"]
    assert found["inputs"]["mass_kg"] == pytest.approx(300 * 0.45359237)
    assert 0 == found["near_best_s"][0] < found["near_best_s"][1] < found["surprising_beyond_s"]
    assert "cannot say which sprocket is best" in found["sentence"]


def test_every_suggestion_carries_the_short_list_and_cautions_all_of_it():
    short = command("gearing", "chain", *DRIVE, "--links", 104)
    for words in ("Engine off", "guard refitted", "fastener the maker specifies", "makers' manuals", "child"):
        assert words in short.out
    whole = command("gearing", "cautions", "--json").json
    assert len(whole["cautions"]) > 10
    assert (
        command("gearing", "chain", *DRIVE, "--links", 104, "--cautions", "--json").json["cautions"]
        == whole["cautions"]
    )


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("chain", "--engine", 11, "--axle", 82.5, "--pitch", 7.774, "--links", 104), ("82.5", "6 or more")),
        (("chain", "--engine", 0, "--axle", 82, "--pitch", 7.774, "--links", 104), ("0 teeth", "6 or more")),
        (("chain", *DRIVE, "--links", 60), ("60 links", "too short")),
        (("chain", "--engine", 11, "--axle", 82, "--pitch", "3/8", "--links", 104), ("0.375 mm", "3/8in")),
        (("expect", "--engine", 11, "--axle", 82, "--axle-after", 82), ("11/82", "same ratio")),
        (("chain", *DRIVE, "--centre", 50), ("50 mm", "115")),
        (("chain", *DRIVE, "--links", 104, "--axle-after", 0), ("0 teeth", "6 or more")),
        (("chain", *DRIVE, "--links", 104, "--slots", 210, 190), ("210", "190")),
        (("speed", "--engine", 11, "--axle", 82, "--circumference", 0.86, "--rpm", 90000), ("90000", "30000")),
        (("speed", "--engine", 11, "--axle", 82, "--circumference", 86, "--rpm", 9000), ("86", "0.2 to 3")),
        (("pulled", "--engine", 11, "--axle", 82, "--speed-before", 96, "--speed-after", 97, "--speed-error", 1),
         ("same ratio",)),
        (("pairs", "--engine", 11, "--axle", 5), ("5 teeth", "6 or more")),
    ],
)  # fmt: skip
def test_bad_input_names_the_value_and_the_range(words, told):
    done = command("gearing", *words, "--json")
    assert done.status == 1
    error = done.json["error"]
    assert set(error) == {"what", "where", "mend"}
    said = error["what"] + error["mend"]
    for part in told:
        assert part in said
    plain = command("gearing", *words)
    assert plain.status == 1
    assert error["what"] in plain.err


@pytest.mark.parametrize(
    "words",
    [
        ("chain", "--engine", "eleven", "--axle", 82, "--pitch", 7.774, "--links", 104),
        ("chain", "--engine", 11, "--axle", 82, "--pitch", "7.774 parsec", "--links", 104),
        ("chain", "--engine", 11, "--axle", 82, "--pitch", "1/0in", "--links", 104),
        ("chain", *DRIVE),
        ("chain", "--engine", 11, "--links", 104),
        ("speed", "--engine", 11, "--axle", 82, "--rpm", 9000),
        ("speed", "--engine", 11, "--axle", 82, "--rpm", 9000, "--speed", 60, "--circumference", 0.86),
        ("pulled", "--engine", 11, "--axle", 82, "--axle-after", 81),
        ("pulled", "--engine", 11, "--axle", 82, "--axle-after", 81, "--speed-before", 96),
        ("pairs", "--engine", 11, "--axle", "82-80"),
        ("expect", "--engine", 11, "--axle", 82),
        ("turbo",),
    ],
)
def test_a_call_that_is_not_understood_is_usage(words):
    done = command("gearing", *words, "--json")
    assert done.status == 2
    assert done.json["error"]["what"]


def test_a_change_of_gear_has_one_size_in_an_answer():
    levels = ("--speed-before", 96, "--speed-after", 97, "--speed-error", 0.3)
    said = command("gearing", "pulled", "--engine", 11, "--axle", 84, "--axle-after", 80, *levels).out
    # 84 to 80 teeth: 84 / 80 = 1.05
    assert said.count("(5.0 %)") == 2
