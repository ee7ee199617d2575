"""Student's t, F and chi-squared, one number at a time: what intervals and p-values need.

scipy has them too, but importing it takes longer than most answers. Incomplete beta function by its continued
fraction, incomplete gamma function by series and continued fraction (Abramowitz & Stegun 1964, 26.5.8, 6.5.29,
6.5.31, from memory), evaluated by the method of Lentz; inverses by Newton's method on a logarithmic scale, kept
inside a bracket. Within 1e-10 (relative) of scipy.special, which the tests hold them against.
"""

import math
from collections.abc import Callable
from functools import lru_cache

#: Terms of a continued fraction or series before it is given up; square root of the largest parameter is enough.
MOST_TERMS = 100_000
_SMALL, _EXACT = 1e-300, 1e-16
#: From here on Stirling's series is exact to the last digit.
_STIRLING_FROM = 60.0
#: Beyond this many degrees of freedom t is the normal distribution to ten digits.
_NORMAL_DOF = 1e11


def t_below(dof: float, x: float) -> float:
    """P(T < x) for Student's t."""
    if math.isnan(x):
        return math.nan
    if dof > _NORMAL_DOF:
        return 0.5 * math.erfc(-x / math.sqrt(2.0))
    if math.isinf(x):
        return 1.0 if x > 0 else 0.0
    whole = dof + x * x
    if abs(x) < 1.0:
        inner = 0.5 * _beta_share(0.5, dof / 2.0, x * x / whole, dof / whole)
        return 0.5 + inner if x > 0 else 0.5 - inner
    tail = 0.5 * _beta_share(dof / 2.0, 0.5, dof / whole, x * x / whole)
    return 1.0 - tail if x > 0 else tail


@lru_cache(maxsize=4096)
def t_quantile(dof: float, p: float) -> float:
    """The x with P(T < x) = p."""
    if p == 0.5:
        return 0.0
    tail = 2.0 * min(p, 1.0 - p)
    if tail <= 0.0:
        return math.copysign(math.inf, p - 0.5)
    dof = min(dof, _NORMAL_DOF)
    y, rest = _beta_inverse(dof / 2.0, 0.5, tail)
    return math.copysign(math.sqrt(dof * rest / y), p - 0.5)


def f_above(dof_1: float, dof_2: float, x: float) -> float:
    """P(F > x)."""
    if x <= 0.0:
        return 1.0
    if math.isinf(x):
        return 0.0
    whole = dof_2 + dof_1 * x
    return _beta_share(dof_2 / 2.0, dof_1 / 2.0, dof_2 / whole, dof_1 * x / whole)


@lru_cache(maxsize=4096)
def f_quantile(dof_1: float, dof_2: float, p: float) -> float:
    """The x with P(F < x) = p."""
    y, rest = _beta_inverse(dof_1 / 2.0, dof_2 / 2.0, p)
    return dof_2 * y / (dof_1 * rest)


def chi2_above(dof: float, x: float) -> float:
    """P(chi-squared > x)."""
    return 1.0 if x <= 0.0 else _gamma_above(dof / 2.0, x / 2.0)


@lru_cache(maxsize=4096)
def chi2_exceeded(dof: float, p: float) -> float:
    """The x with P(chi-squared > x) = p."""
    a = dof / 2.0

    def share(u: float) -> tuple[float, float]:
        x = math.exp(u)
        above = _gamma_above(a, x)
        density = math.exp(a * u - x - math.lgamma(a))  # times x, for the logarithmic scale
        return above - p, -density

    # mean a; the tails are followed in logarithms, wide enough for any p that a double can tell from 0 and 1
    return 2.0 * math.exp(
        _root(share, -745.0 / a - 5.0, math.log(a + 1.0) + 8.0, math.log(max(a - 0.3, a / 2.0)))
    )


def _beta_share(a: float, b: float, x: float, rest: float) -> float:
    """Regularised incomplete beta function I_x(a, b); ``rest`` is 1 - x, given apart to keep its digits."""
    if x <= 0.0:
        return 0.0
    if rest <= 0.0:
        return 1.0
    front = math.exp(_log_front(a, b, x, rest))
    if x < (a + 1.0) / (a + b + 2.0):
        return front * _beta_fraction(a, b, x) / a
    return 1.0 - front * _beta_fraction(b, a, rest) / b


def _log_front(a: float, b: float, x: float, rest: float) -> float:
    """log of x^a (1 - x)^b / B(a, b)."""
    log_x = math.log(x) if x < 0.5 else math.log1p(-rest)
    log_rest = math.log(rest) if rest < 0.5 else math.log1p(-x)
    return a * log_x + b * log_rest - _log_beta(a, b)


def _log_beta(a: float, b: float) -> float:
    """log B(a, b); Stirling's series where the difference of two large logarithms would lose digits."""
    low, high = min(a, b), max(a, b)
    if high < _STIRLING_FROM:
        return math.lgamma(a) + math.lgamma(b) - math.lgamma(a + b)
    both = low + high
    grown = (high - 0.5) * math.log1p(low / high) + low * math.log(both) - low
    if low < _STIRLING_FROM:
        return math.lgamma(low) - grown - _correction(both) + _correction(high)
    own = (low - 0.5) * math.log(low) - low + 0.5 * math.log(2.0 * math.pi) + _correction(low)
    return own - grown - _correction(both) + _correction(high)


def _correction(z: float) -> float:
    """What Stirling's series adds."""
    return (1.0 - (1.0 - 2.0 / (7.0 * z * z)) / (30.0 * z * z)) / (12.0 * z)


def _beta_fraction(a: float, b: float, x: float) -> float:
    """Continued fraction of the incomplete beta function."""
    c, d = 1.0, 1.0 / _away_from_0(1.0 - (a + b) * x / (a + 1.0))
    value = d
    for m in range(1, MOST_TERMS):
        even = m * (b - m) * x / ((a + 2 * m - 1.0) * (a + 2 * m))
        odd = -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1.0))
        change = 1.0
        for term in (even, odd):
            d = 1.0 / _away_from_0(1.0 + term * d)
            c = _away_from_0(1.0 + term / c)
            change = c * d
            value *= change
        if abs(change - 1.0) < _EXACT * 4:
            return value
    raise ArithmeticError(f"no end to the fraction of the beta function at {a}, {b}, {x}")


def _away_from_0(value: float) -> float:
    return value if abs(value) > _SMALL else _SMALL


def _beta_inverse(a: float, b: float, p: float) -> tuple[float, float]:
    """(x, 1 - x) with I_x(a, b) = p, both to full precision."""
    if _beta_share(a, b, 0.5, 0.5) < p:  # the answer lies above a half: found from the other end
        rest, x = _beta_inverse_low(b, a, 1.0 - p)
        return x, rest
    return _beta_inverse_low(a, b, p)


def _beta_inverse_low(a: float, b: float, p: float) -> tuple[float, float]:
    """(x, 1 - x) with x at most a half, by its logarithm."""

    def share(u: float) -> tuple[float, float]:
        x = math.exp(u)
        density = math.exp(_log_front(a, b, x, 1.0 - x)) / (1.0 - x)  # times x, for the logarithmic scale
        return _beta_share(a, b, x, 1.0 - x) - p, density

    start = (math.log(max(p, _SMALL)) + math.log(a) + _log_beta(a, b)) / a
    x = math.exp(_root(share, -745.0, math.log(0.5) + 1e-12, start))
    return x, 1.0 - x


def _gamma_above(a: float, x: float) -> float:
    """Regularised upper incomplete gamma function Q(a, x)."""
    front = math.exp(a * math.log(x) - x - math.lgamma(a)) if x > 0.0 else 0.0
    if x < a + 1.0:
        term = total = 1.0 / a
        n = a
        while term > total * _EXACT:
            n += 1.0
            term *= x / n
            total += term
        return 1.0 - front * total
    b = x + 1.0 - a
    c, d = 1.0 / _SMALL, 1.0 / b
    value = d
    for i in range(1, MOST_TERMS):
        term = -i * (i - a)
        b += 2.0
        d = 1.0 / _away_from_0(term * d + b)
        c = _away_from_0(b + term / c)
        value *= c * d
        if abs(c * d - 1.0) < _EXACT * 4:
            return front * value
    raise ArithmeticError(f"no end to the fraction of the gamma function at {a}, {x}")


def _root(function: Callable[[float], tuple[float, float]], low: float, high: float, start: float) -> float:
    """Where a monotone function (value, slope) is 0, by Newton's method; by halving where that leaves the bracket."""
    rising = function(high)[0] > 0
    u = start if low < start < high else (low + high) / 2.0
    for _ in range(200):
        value, slope = function(u)
        if (value > 0) == rising:
            high = u
        else:
            low = u
        step = value / slope if slope != 0.0 else math.inf
        following = u - step
        if not low < following < high:
            following = (low + high) / 2.0
        if abs(following - u) <= 1e-15 * max(abs(u), 1.0):
            return following
        u = following
    return u
