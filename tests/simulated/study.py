"""The full study: false calls, coverage, width, bias, power by order and other karts; and the ordinary ways.

Power is what is called with 0.1, 0.2 and 0.3 s taken off every own lap after the change.

Run from the checkout: ``python tests/simulated/study.py [days]`` (2,000 days take some eight minutes).
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from simulated.simulator import ORDERS, Scenario
from simulated.trials import run, run_ordinary


def main(days: int) -> None:
    for others in (12, 3, 0):
        print(f"\n{others} other karts, {days} days a row; seconds\n")
        print("| order | false calls / coverage | bias | width | power -.1 / -.2 / -.3 | cannot be told |")
        print("| --- | --- | --- | --- | --- | --- |")
        for seed, order in enumerate(ORDERS):
            row = run(Scenario(order, others), days, seed)
            power = " / ".join(f"{share:.2f}" for share in row.power)
            told = f"{row.called:.3f} / {row.coverage:.3f} | {row.bias:+.3f} | {row.width:.2f} | {power}"
            print(f"| {order} | {told if row.power else ' | | |'} | {row.refused:.2f} |", flush=True)
    print("\ncalled although nothing changed, by ordinary means (12 other karts on track, not looked at)\n")
    for seed, order in enumerate(ORDERS):
        ways = run_ordinary(Scenario(order, 12), days, 200 + seed)
        print(f"{order:9} " + "  ".join(f"{name} {share:.2f}" for name, share in ways.items()), flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 2000)
