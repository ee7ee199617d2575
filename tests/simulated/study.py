"""The full study: false calls, coverage, width, bias, power by order and other karts; and the ordinary ways.

Run from the checkout: ``python tests/simulated/study.py [days]`` (2,000 days take some ten minutes).
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from simulated.simulator import ORDERS, Scenario
from simulated.trials import run, run_ordinary


def main(days: int) -> None:
    print(f"{days} days each; false calls / coverage / width s / power -0.20 / -0.30 / refused / bias s")
    for others in (12, 3, 0):
        print(f"\n{others} other karts")
        for seed, order in enumerate(ORDERS):
            plain = run(Scenario(order, others), days, seed)
            power = [run(Scenario(order, others, effect=e), days, 100 + seed).called for e in (-0.2, -0.3)]
            print(
                f"  {order:9} {plain.called:.3f}/{plain.coverage:.3f}/{plain.width:.2f}"
                f"/{power[0]:.2f}/{power[1]:.2f}   refused {plain.refused:.2f}   bias {plain.bias:+.3f}",
                flush=True,
            )
    print("\ncalled although nothing changed, by ordinary means (12 other karts on track, not looked at)")
    for seed, order in enumerate(ORDERS):
        ways = run_ordinary(Scenario(order, 12), days, 200 + seed)
        print(f"  {order:9} " + "  ".join(f"{name} {share:.2f}" for name, share in ways.items()), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
