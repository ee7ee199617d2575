"""The ratio phi(a)/Phi(a) of the normal density to its distribution function, many at once and quickly.

Inside the table by a Taylor polynomial about the nearest node, below it by the scaled error function, above it
the last node, which is 0 to 22 decimals. The ratio L has L' = -L (L + a), and from it all further derivatives
(inverse Mills ratio; Sampford 1953, from memory). Error: the next term, |L^(5)|/5! (h/2)^5 < 3e-13.
"""

import numpy as np
from scipy.special import erfcx

from lapdelta.effect.arrays import Floats, Ints

LOWEST, HIGHEST = -16, 10
NODES_A_UNIT = 64
_LAST = (HIGHEST - LOWEST) * NODES_A_UNIT


def _exact(a: Floats) -> Floats:
    """sqrt(2/pi)/erfcx(-a/sqrt 2), with the error function scaled so that it stays finite far out."""
    with np.errstate(over="ignore"):
        return np.sqrt(2 / np.pi) / np.asarray(erfcx(a * -np.sqrt(0.5)), np.float64)


def _taylor() -> tuple[Floats, ...]:
    """Value and coefficients of the powers 1 to 4 of (a - node) * NODES_A_UNIT, at every node."""
    a = LOWEST + np.arange(_LAST + 1) / NODES_A_UNIT
    value = _exact(a)
    derivatives = [value]
    inside = [value + a]  # L + a and its derivatives
    for order in range(4):
        pairs = zip(_BINOMIALS[order], derivatives, reversed(inside), strict=True)
        derivatives.append(-sum((n * one * other for n, one, other in pairs), np.zeros_like(a)))
        inside.append(derivatives[-1] + (1.0 if order == 0 else 0.0))
    factors = (1.0, 1.0, 2.0, 6.0, 24.0)
    return tuple(
        d / f / float(NODES_A_UNIT) ** i for i, (d, f) in enumerate(zip(derivatives, factors, strict=True))
    )


_BINOMIALS = ((1,), (1, 1), (1, 2, 1), (1, 3, 3, 1))
_TABLE = _taylor()


def inverse_mills(a: Floats) -> Floats:
    """phi(a)/Phi(a) of every element; 0 far above, -a far below."""
    place = (a - LOWEST) * NODES_A_UNIT
    np.maximum(place, 0.0, out=place)  # quicker than clip, and this is what a fit spends its time on
    np.minimum(place, _LAST, out=place)
    nearest = np.rint(place)
    index: Ints = nearest.astype(np.int64)
    place -= nearest
    value = _TABLE[4].take(index)
    for coefficient in _TABLE[3::-1]:
        value *= place
        value += coefficient.take(index)
    if a.size and a.min() < LOWEST:
        below = a < LOWEST
        value[below] = _exact(a[below])
    return value
