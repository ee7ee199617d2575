"""Student's t, F and chi-squared, one number at a time: what intervals and p-values need, from scipy.special."""

from typing import Any

from scipy import special as _special

_functions: Any = _special  # typed as ufuncs over arrays there; here only numbers go in and come out


def t_below(dof: float, x: float) -> float:
    """P(T < x) for Student's t."""
    return float(_functions.stdtr(dof, x))


def t_quantile(dof: float, p: float) -> float:
    """The x with P(T < x) = p."""
    return float(_functions.stdtrit(dof, p))


def f_above(dof_1: float, dof_2: float, x: float) -> float:
    """P(F > x)."""
    return float(_functions.fdtrc(dof_1, dof_2, x))


def f_quantile(dof_1: float, dof_2: float, p: float) -> float:
    """The x with P(F < x) = p."""
    return float(_functions.fdtri(dof_1, dof_2, p))


def chi2_above(dof: float, x: float) -> float:
    """P(chi-squared > x)."""
    return float(_functions.chdtrc(dof, x))


def chi2_exceeded(dof: float, p: float) -> float:
    """The x with P(chi-squared > x) = p."""
    return float(_functions.chdtri(dof, p))
