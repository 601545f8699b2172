"""Problems of regression with certified answers, read from the files that hold them, and their
models with slopes.

Source: nist-strd, nonlinear regression, a file for each problem in `regression/`, unchanged: its
own reference, its model in words, two starts, what is certified, and the data.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Law = Callable[..., tuple[Floats, Floats]]

HERE = Path(__file__).parent / "regression"
NAMES = sorted(path.stem for path in HERE.glob("*.dat"))


@dataclass(frozen=True)
class Certified:
    """One problem: N observations of a response, P parameters."""

    name: str
    response: Floats  # (N,) as the model gives it: its logarithm, where the model says so
    predictors: tuple[Floats, ...]  # each (N,)
    starts: Floats  # (2, P), the first far and the second near
    parameters: Floats  # (P,)
    deviations: Floats  # (P,) standard deviations of the parameters
    squares: float  # sum of the squared residuals
    residual_deviation: float
    freedom: int

    def __call__(self, at: Floats) -> tuple[Floats, Floats]:
        """Values (N,) of the model and their slopes (N, P), infinite where a trial goes far off."""
        with np.errstate(all="ignore"):
            return LAWS[self.name](at, *self.predictors)

    def residuals(self, at: Floats) -> Floats:
        """Observed less modelled (N,)."""
        return self.response - self(at)[0]


def certified(name: str) -> Certified:
    """Problem of that name, from its file."""
    text = (HERE / f"{name}.dat").read_text("ascii")
    head, _, table = text.rpartition("Data:")
    table = table.partition("\n")[2]  # below the names of its columns
    data = np.array([[float(word) for word in line.split()] for line in table.splitlines()])
    number = r"\s+([-+.\dE]+)"
    rows = np.array(re.findall(rf"^\s*b\d\s*={number * 4}\s*$", head, re.MULTILINE), dtype=float)

    def stated(words: str) -> str:
        (found,) = re.findall(rf"^{words}:{number}\s*$", head, re.MULTILINE)
        return str(found)

    if data.shape[0] != int(stated("Number of Observations")):
        raise ValueError(f"{name}: the file is not whole")
    response = np.log(data[:, 0]) if "log[y] =" in head else data[:, 0]
    return Certified(
        name=name,
        response=response,
        predictors=tuple(data[:, 1:].T),
        starts=rows[:, :2].T,
        parameters=rows[:, 2],
        deviations=rows[:, 3],
        squares=float(stated("Residual Sum of Squares")),
        residual_deviation=float(stated("Residual Standard Deviation")),
        freedom=int(stated("Degrees of Freedom")),
    )


def bennett(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 (b2 + x)^(-1/b3)."""
    scale, shift, root = at
    base = shift + x
    shape = base ** (-1.0 / root)
    value = scale * shape
    return value, _columns(shape, -value / (root * base), value * np.log(base) / root**2)


def chwirut(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """exp(-b1 x) / (b2 + b3 x)."""
    rate, constant, slope = at
    below = constant + slope * x
    value = np.exp(-rate * x) / below
    return value, _columns(-x * value, -value / below, -x * value / below)


def danwood(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 x^b2."""
    scale, power = at
    shape = x**power
    return scale * shape, _columns(shape, scale * shape * np.log(x))


def eckerle(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1/b2 exp(-((x - b3)/b2)²/2)."""
    area, width, centre = at
    away = (x - centre) / width
    shape = np.exp(-0.5 * away**2) / width
    value = area * shape
    return value, _columns(shape, value * (away**2 - 1.0) / width, value * away / width)


def enso(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1, a yearly cycle (b2, b3), and two cycles of unknown length (b4 to b6, b7 to b9)."""
    value = np.full(x.shape, at[0])
    slopes = [np.ones(x.shape)]
    for cosine, sine, period, known in (
        (at[1], at[2], 12.0, True),
        (at[4], at[5], at[3], False),
        (at[7], at[8], at[6], False),
    ):
        angle = 2.0 * np.pi * x / period
        value = value + cosine * np.cos(angle) + sine * np.sin(angle)
        if not known:
            turned = cosine * np.sin(angle) - sine * np.cos(angle)
            slopes.append(turned * angle / period)
        slopes += [np.cos(angle), np.sin(angle)]
    return value, _columns(*slopes)


def gauss(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 exp(-b2 x) and two bells, b3 exp(-((x - b4)/b5)²) and the same of b6 to b8."""
    value, slopes = exponentials(at[:2], x)
    columns = [slopes]
    for height, centre, width in (at[2:5], at[5:8]):
        away = (x - centre) / width
        shape = np.exp(-(away**2))
        bell = height * shape
        value = value + bell
        columns.append(_columns(shape, 2.0 * bell * away / width, 2.0 * bell * away**2 / width))
    return value, np.hstack(columns)


def exponentials(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """Sum of terms b1 exp(-b2 x), b3 exp(-b4 x), ..."""
    value = np.zeros(x.shape)
    slopes: list[Floats] = []
    for scale, rate in at.reshape(-1, 2):
        shape = np.exp(-rate * x)
        value = value + scale * shape
        slopes += [shape, -scale * x * shape]
    return value, _columns(*slopes)


def mgh09(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 (x² + b2 x) / (x² + b3 x + b4)."""
    scale, above, slope, constant = at
    below = x**2 + slope * x + constant
    shape = (x**2 + above * x) / below
    value = scale * shape
    return value, _columns(shape, scale * x / below, -value * x / below, -value / below)


def mgh10(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 exp(b2 / (x + b3))."""
    scale, above, shift = at
    below = x + shift
    shape = np.exp(above / below)
    value = scale * shape
    return value, _columns(shape, value / below, -value * above / below**2)


def mgh17(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 + b2 exp(-b4 x) + b3 exp(-b5 x)."""
    value, slopes = exponentials(at[[1, 3, 2, 4]], x)
    return at[0] + value, np.column_stack([np.ones(x.shape), slopes[:, [0, 2, 1, 3]]])


def misra1a(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 (1 - exp(-b2 x))."""
    scale, rate = at
    return scale * -np.expm1(-rate * x), _columns(
        -np.expm1(-rate * x), scale * x * np.exp(-rate * x)
    )


def misra1b(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 (1 - (1 + b2 x/2)^-2)."""
    scale, rate = at
    base = 1.0 + 0.5 * rate * x
    return scale * (1.0 - base**-2), _columns(1.0 - base**-2, scale * x * base**-3)


def misra1c(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 (1 - (1 + 2 b2 x)^-0.5)."""
    scale, rate = at
    base = 1.0 + 2.0 * rate * x
    return scale * (1.0 - base**-0.5), _columns(1.0 - base**-0.5, scale * x * base**-1.5)


def misra1d(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 b2 x / (1 + b2 x)."""
    scale, rate = at
    base = 1.0 + rate * x
    return scale * rate * x / base, _columns(rate * x / base, scale * x / base**2)


def nelson(at: Floats, time: Floats, temperature: Floats) -> tuple[Floats, Floats]:
    """b1 - b2 x1 exp(-b3 x2), a logarithm."""
    constant, slope, rate = at
    shape = time * np.exp(-rate * temperature)
    return constant - slope * shape, _columns(
        np.ones(time.shape), -shape, slope * shape * temperature
    )


def rat42(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 / (1 + exp(b2 - b3 x))."""
    value, slopes = rat43(np.append(at, 1.0), x)
    return value, slopes[:, :3]


def rat43(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 / (1 + exp(b2 - b3 x))^(1/b4)."""
    scale, constant, rate, root = at
    grown = np.exp(constant - rate * x)
    shape = (1.0 + grown) ** (-1.0 / root)
    value = scale * shape
    by_constant = -value / root * grown / (1.0 + grown)
    return value, _columns(shape, by_constant, -x * by_constant, value * np.log1p(grown) / root**2)


def roszman(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """b1 - b2 x - arctan(b3 / (x - b4)) / pi."""
    constant, slope, above, centre = at
    away = x - centre
    square = np.pi * (above**2 + away**2)
    return constant - slope * x - np.arctan(above / away) / np.pi, _columns(
        np.ones(x.shape), -x, -away / square, -above / square
    )


def rational(at: Floats, x: Floats) -> tuple[Floats, Floats]:
    """(b1 + b2 x + b3 x² + ...) / (1 + c1 x + c2 x² + ...), both of one degree."""
    degree = at.size // 2
    powers = x[:, None] ** np.arange(degree + 1)
    below = 1.0 + powers[:, 1:] @ at[degree + 1 :]
    value = powers @ at[: degree + 1] / below
    above = powers / below[:, None]
    return value, np.hstack([above, -value[:, None] * above[:, 1:]])


def _columns(*slopes: Floats) -> Floats:
    return np.column_stack(slopes)


LAWS: dict[str, Law] = {
    "Bennett5": bennett,
    "BoxBOD": misra1a,
    "Chwirut1": chwirut,
    "Chwirut2": chwirut,
    "DanWood": danwood,
    "ENSO": enso,
    "Eckerle4": eckerle,
    "Gauss1": gauss,
    "Gauss2": gauss,
    "Gauss3": gauss,
    "Hahn1": rational,
    "Kirby2": rational,
    "Lanczos1": exponentials,
    "Lanczos2": exponentials,
    "Lanczos3": exponentials,
    "MGH09": mgh09,
    "MGH10": mgh10,
    "MGH17": mgh17,
    "Misra1a": misra1a,
    "Misra1b": misra1b,
    "Misra1c": misra1c,
    "Misra1d": misra1d,
    "Nelson": nelson,
    "Rat42": rat42,
    "Rat43": rat43,
    "Roszman1": roszman,
    "Thurber": rational,
}
