"""The main job itself against a printed number: a published worked example goes in as timing files.

Crawford & Howell (1998), "Comparing an individual's test score against norms derived from small samples",
The Clinical Neuropsychologist 12, p. 483: a case scores 33, fifteen controls have mean 50 and standard
deviation 10; t(14) = -1.646, one-sided p = .061 (inputs as quoted in public answers, the p from memory; a
computation from the inputs agrees with both).

Here one score point is 1/100 s: every kart laps in constant 60 s in P1 and in 60 s + score/100 in P2. The
controls are the other karts, the case is ours. Then the change of our lap time against the other karts is
(33 - 50)/100 = -0.170 s with standard error 0.10 sqrt(16/15) = 0.1033 s.
"""

import csv
import json
import subprocess
import sys

import pytest

CASE = 33
#: Fifteen whole scores with mean 50 and standard deviation 10 exactly: 50, and 50 +- these.
STEPS = (22, 12, 6, 5, 3, 1, 1)
CONTROLS = [50, *(50 + step for step in STEPS), *(50 - step for step in STEPS)]


def write_session(folder, session, seconds):
    file = folder / f"{session}.csv"
    with file.open("w", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(["Session", "Kart", "Lap", "Lap time", "Date"])
        for kart, lap_time in seconds.items():
            for lap in range(1, 11):
                writer.writerow([session, kart, lap, f"{lap_time:.3f}", "2026-05-16"])
    return file


@pytest.fixture
def archive(tmp_path):
    karts = {"33": CASE} | {str(100 + i): score for i, score in enumerate(CONTROLS)}
    files = [
        write_session(tmp_path, "P1", dict.fromkeys(karts, 60.0)),
        write_session(tmp_path, "P2", {kart: 60 + score / 100 for kart, score in karts.items()}),
    ]
    folder = tmp_path / "archive"
    run("import", *files, "--archive", folder)
    return folder


def run(*words):
    done = subprocess.run(
        [sys.executable, "-m", "lapdelta", *map(str, words), "--json"],
        check=True,
        capture_output=True,
        text=True,
    )
    return json.loads(done.stdout)


def test_the_controls_are_those_of_the_example():
    mean = sum(CONTROLS) / 15
    assert mean == 50
    assert sum((score - mean) ** 2 for score in CONTROLS) / 14 == 100


def test_from_file_to_verdict(archive):
    finding = run("compare", "--kart", "33", "--before", "P1", "--after", "P2", "--archive", archive)
    assert finding["estimate"] == pytest.approx(-0.170, abs=1e-9)
    assert finding["standard_error"] == pytest.approx(0.1033, abs=5e-5)  # printed sd 10, n 15, to four digits
    assert finding["dof"] == 14
    assert finding["estimate"] / finding["standard_error"] == pytest.approx(
        -1.646, abs=5e-4
    )  # three printed decimals
    assert finding["chance_better"] == pytest.approx(1 - 0.061, abs=5e-4)  # one-sided p to three decimals
    assert finding["p_value"] == pytest.approx(2 * 0.061, abs=1e-3)
    assert finding["verdict"] == "not settled"
    assert finding["low"] < -0.170 < finding["high"]
