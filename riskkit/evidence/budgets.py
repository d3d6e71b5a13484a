"""An uncertainty budget: a formula, what is known about its inputs, and how they hang together."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from riskkit.evidence.answers import EvidenceError
from riskkit.evidence.formulas import Formula, nearest, read_formula, refuse_name
from riskkit.evidence.inputs import Input
from riskkit.evidence.refusals import refuse_number

if TYPE_CHECKING:
    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Budget:
    """A formula and its inputs.

    Attributes:
        formula: A text such as `(rho_w - rho_a) * g * h`, or a Python function that takes the inputs by name.
        inputs: Input by name. The units are the caller's; they must go together.
        correlations: Correlation coefficient by pair of names; pairs that are not named are independent.
        estimand: What is estimated, such as "pressure".
        unit: The unit in which the formula's values come out.

    Raises:
        EvidenceError: for a formula that cannot be read, names that do not fit, or correlations that no set of
            readings can have.
    """

    formula: str | Formula | Callable[..., Any]
    inputs: Mapping[str, Input]
    correlations: Mapping[tuple[str, str], float] = field(default_factory=dict)
    estimand: str = "value of the formula"
    unit: str = ""

    def __post_init__(self) -> None:
        inputs = {refuse_name(name): known for name, known in self.inputs.items()}
        if not inputs:
            raise EvidenceError("the budget has no inputs", "name each quantity in the formula and say how it is known")
        for name, known in inputs.items():
            if not isinstance(known, Input):
                raise EvidenceError(f"`{name}` is {known!r}, and must be an Input", "write Input(value, u=...)")
        formula = read_formula(self.formula) if isinstance(self.formula, str) else self.formula
        if isinstance(formula, Formula):
            _refuse_strangers(formula, tuple(inputs))
        pairs = dict(_pairs(self.correlations, inputs))
        object.__setattr__(self, "formula", formula)
        object.__setattr__(self, "inputs", MappingProxyType(inputs))
        object.__setattr__(self, "correlations", MappingProxyType(pairs))
        if pairs:
            _refuse_impossible(self)

    @property
    def values(self) -> Mapping[str, float]:
        """Best estimate by name."""
        return MappingProxyType({name: known.value for name, known in self.inputs.items()})

    def below(self, formula: Formula) -> Budget:
        """The inputs that stand in another formula, below that formula."""
        inputs = {name: known for name, known in self.inputs.items() if name in formula.names}
        pairs = {pair: r for pair, r in self.correlations.items() if inputs.keys() >= set(pair)}
        return replace(self, formula=formula, inputs=inputs, correlations=pairs)

    def correlation_matrix(self) -> NDArray[Any]:
        """Correlation matrix of the inputs, in their order."""
        import numpy as np

        place = {name: number for number, name in enumerate(self.inputs)}
        matrix = np.eye(len(place))
        for (one, other), r in self.correlations.items():
            matrix[place[one], place[other]] = matrix[place[other], place[one]] = r
        return matrix

    def axes(self) -> NDArray[Any]:
        """Columns along which the inputs move independently of each other, each one standard uncertainty long.

        Their product with their transpose is the covariance matrix.
        """
        import numpy as np

        u = np.array([known.u for known in self.inputs.values()])
        if self.correlations:
            lengths, ways = np.linalg.eigh(self.correlation_matrix())
            columns = u[:, None] * ways * np.sqrt(np.clip(lengths, 0.0, None))
        else:
            columns = np.diag(u)
        return np.asarray(columns[:, np.any(columns != 0, axis=0)])

    def groups(self) -> tuple[tuple[str, ...], ...]:
        """Names that hang together by correlations, each independent input in a group of its own."""
        home = {name: {name} for name in self.inputs}
        for one, other in self.correlations:
            joined = home[one] | home[other]
            home.update(dict.fromkeys(joined, joined))
        seen = dict.fromkeys(tuple(name for name in self.inputs if name in home[each]) for each in self.inputs)
        return tuple(seen)


def _refuse_strangers(formula: Formula, names: tuple[str, ...]) -> None:
    for name in formula.names:
        if name not in names:
            guess = nearest(name, names)
            raise EvidenceError(
                f"`{name}` stands in the formula and not among the inputs",
                f"did you mean `{guess}`?" if guess else f"add an input `{name}`",
            )
    for name in names:
        if name not in formula.names:
            raise EvidenceError(
                f"the input `{name}` does not stand in the formula", "use it in the formula, or take it out"
            )


def _pairs(
    given: Mapping[tuple[str, str], float], inputs: Mapping[str, Input]
) -> Iterator[tuple[tuple[str, str], float]]:
    """Pairs in the order of the inputs; 0 is no correlation."""
    seen: set[frozenset[str]] = set()
    order = tuple(inputs)
    for pair, coefficient in given.items():
        if not isinstance(pair, tuple) or len(pair) != 2:
            raise EvidenceError(f"a correlation is between two inputs, not {pair!r}", "name two inputs")
        one, other = (refuse_name(name) for name in pair)
        for name in (one, other):
            if name not in inputs:
                guess = nearest(name, order)
                raise EvidenceError(
                    f"a correlation names `{name}`, which is no input",
                    f"did you mean `{guess}`?" if guess else f"the inputs are {', '.join(order)}",
                )
            if inputs[name].u == 0:
                raise EvidenceError(f"`{name}` is exact and cannot be correlated with anything", "take the pair out")
        if one == other:
            raise EvidenceError(f"`{one}` is correlated with itself", "name two different inputs")
        if frozenset(pair) in seen:
            raise EvidenceError(f"the correlation of `{one}` and `{other}` is given twice", "give it once")
        seen.add(frozenset(pair))
        r = refuse_number(coefficient, f"r of `{one}` and `{other}`")
        if not -1 <= r <= 1:
            raise EvidenceError(f"r of `{one}` and `{other}` is {r:g}, and must lie from -1 to 1", "give r again")
        if r != 0:
            yield (one, other) if order.index(one) < order.index(other) else (other, one), r


def _refuse_impossible(budget: Budget) -> None:
    """Refuse a set of correlations that no joint distribution has: an eigenvalue below 0."""
    import numpy as np

    if float(np.linalg.eigvalsh(budget.correlation_matrix()).min()) < -1e-10 * math.sqrt(len(budget.inputs)):
        names = sorted({name for pair in budget.correlations for name in pair})
        raise EvidenceError(
            f"the correlations of {', '.join(names)} contradict each other: no readings can have all of them at once",
            "look at each pair again; if a goes with b and b with c, then a cannot go against c",
        )
