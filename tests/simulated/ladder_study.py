"""The full study of the sharper paces, on karts that hold each other up.

Run from the checkout: ``python tests/simulated/ladder_study.py [days]`` (1,000 days take some twelve minutes).
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from simulated.karts_on_track import Practice
from simulated.ladder import ladder

ORDERS = ("AB", "ABAB", "ABBA", "ABBABAAB")


def main(days: int) -> None:
    print(f"{days} days each, 12 other karts; SD / width / power -0.20 / -0.30 / smallest effect, s")
    for order in ORDERS:
        still = ladder(Practice(order), days, 1)
        power = [ladder(Practice(order, effect=effect), days, 2) for effect in (-0.2, -0.3)]
        for source, row in still.items():
            print(
                f"  {order:9} pace from {source:19} {row.sd:.3f}/{row.width:.2f}/{power[0][source].called:.2f}"
                f"/{power[1][source].called:.2f}/{row.smallest:.2f}   false calls {row.called:.3f}"
                f"   coverage {row.coverage:.3f}   bias {row.bias:+.3f}",
                flush=True,
            )
    for title, practice in (
        ("our kart clear before, in a queue after", Practice("ABBA", queue=True)),
        ("our laps 40 % more scattered after", Practice("ABBA", more_scatter=0.4)),
        ("clocks to whole seconds", Practice("ABBA", clock_step=1.0)),
    ):
        print(f"\n{title}, ABBA: bias s / SD / called")
        for source, row in ladder(practice, days, 3).items():
            print(f"  pace from {source:19} {row.bias:+.3f}/{row.sd:.3f}/{row.called:.3f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000)
