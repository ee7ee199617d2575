"""The full study of the sharper paces, on karts that hold each other up: the tables of DEVELOPERS.md.

Run from the checkout: ``python tests/simulated/ladder_study.py [days [others ...]]`` (1,000 days, twelve, three and
no other karts: some fifteen minutes). Power is what is called with 0.1, 0.2 and 0.3 s taken off every own lap after
the change, traffic as it was.
"""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent.parent.parent))

from simulated.karts_on_track import Practice
from simulated.ladder import LADDER, Row, ladder

ORDERS = ("AB", "ABAB", "ABBA", "ABBABAAB")
HARDER = (
    ("clear before, in a queue after", {"queue": True}),
    ("40 % more scattered after", {"more_scatter": 0.4}),
    ("clocks to whole seconds", {"clock_step": 1.0}),
    ("tau 0.2 s", {"tau": 0.2}),
)


def by_order(days: int, others: int) -> None:
    print(f"\n{others} other karts, {days} days a row; seconds\n")
    print(
        "| order | pace from | false calls / coverage | bias | sd | width | smallest | power -.1 / -.2 / -.3 |"
    )
    print("| --- | --- | --- | --- | --- | --- | --- | --- |")
    for seed, order in enumerate(ORDERS):
        for source, row in ladder(Practice(order, others), days, 40 + seed).items():
            if row.refused == 1:
                print(f"| {order} | {source} | cannot be told |  |  |  |  |  |", flush=True)
                continue
            refused = f" (told {1 - row.refused:.0%})" if row.refused else ""
            print(
                f"| {order}{refused} | {source} | {row.called:.3f} / {row.coverage:.3f} | {row.bias:+.3f}"
                f" | {row.sd:.3f} | {row.width:.2f} | {row.smallest:.2f}"
                f" | {' / '.join(f'{share:.2f}' for share in row.power)} |",
                flush=True,
            )


def harder(days: int) -> None:
    print(
        f"\nABBA, 12 other karts, {days} days a row: bias against the same draws without it / sd / called\n"
    )
    print("| what | " + " | ".join(f"pace from {source}" for source in LADDER) + " |")
    print("| --- | --- | --- | --- | --- |")
    plain = ladder(Practice("ABBA"), days, 3)
    for title, change in HARDER:
        rows = ladder(Practice("ABBA", **change), days, 3)
        cells = (_beside(row, plain[source]) for source, row in rows.items())
        print(f"| {title} | " + " | ".join(cells) + " |", flush=True)


def _beside(row: Row, plain: Row) -> str:
    return f"{row.bias - plain.bias:+.3f} / {row.sd:.3f} / {row.called:.3f}"


def with_effect(days: int) -> None:
    """The power of ABBA again with the change in the simulated kart itself, so that it meets other traffic."""
    print(f"\nABBA, 12 other karts, {days} days a row, the simulated kart itself 0.3 s quicker after\n")
    for source, row in ladder(Practice("ABBA", effect=-0.3), days, 5).items():
        print(f"pace from {source}: called {row.called:.2f}, bias {row.bias:+.3f}", flush=True)


def main(days: int, others: tuple[int, ...]) -> None:
    for count in others:
        by_order(days, count)
    harder(days)
    with_effect(days)


if __name__ == "__main__":
    given = [int(number) for number in sys.argv[1:]]
    main(given[0] if given else 1000, tuple(given[1:]) or (12, 3, 0))
