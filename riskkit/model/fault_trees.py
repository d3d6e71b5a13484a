"""What has to go wrong together for one outcome: gates over events, which may be shared anywhere."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Annotated, Any, ClassVar, Literal

from pydantic import Field, PlainValidator, WithJsonSchema, model_validator

from riskkit.model.fields import (
    AnyQuantity,
    Block,
    Duration,
    FieldError,
    Id,
    OneProbability,
    Parked,
    Record,
    Role,
    Text,
    one_or_many,
    refers,
)

_NEGATIONS = ("not", "none_of", "not_of", "nor", "nand", "xor")


class FaultGate(Block):
    """What must happen below it: all of its inputs, any of them, or so many of them."""

    title: Text | None = Field(None, description="What has then gone wrong, where its name does not say it.")
    all_of: tuple[Text, ...] | None = Field(None, min_length=1, description="AND: names of events and gates.")
    any_of: tuple[Text, ...] | None = Field(None, min_length=1, description="OR: names of events and gates.")
    at_least: int | None = Field(None, ge=1, description="k-of-n: how many of `of` must happen.")
    of: tuple[Text, ...] | None = Field(None, min_length=1, description="Names of events and gates of a k-of-n gate.")

    @model_validator(mode="before")
    @classmethod
    def _holds_no_negation(cls, data: object) -> object:
        if isinstance(data, Mapping):
            for name in data:
                if str(name).casefold() in _NEGATIONS:
                    raise FieldError(
                        f"`{name}` is not taken: a tree says what must go wrong, and something that must not go wrong "
                        "would make a device better by breaking more of it; name the failure that is there instead",
                        str(name),
                    )
        return data

    @model_validator(mode="after")
    def _is_one_kind(self) -> FaultGate:
        kinds = [name for name in ("all_of", "any_of", "at_least") if getattr(self, name) is not None]
        if len(kinds) != 1:
            raise ValueError("a gate is exactly one of `all_of`, `any_of`, or `at_least` with `of`")
        if (self.at_least is None) != (self.of is None):
            given, missing = ("of", "at_least") if self.at_least is None else ("at_least", "of")
            raise FieldError(f"`{given}` needs `{missing}` beside it; write `{{at_least: 2, of: [...]}}`", given)
        seen: set[str] = set()
        for place, name in enumerate(self.inputs):
            if name in seen:
                raise FieldError(f"`{name}` stands twice in one gate; name it once", self.field, place)
            seen.add(name)
        if self.at_least is not None and self.at_least > len(self.inputs):
            raise FieldError(
                f"{self.at_least} of {len(self.inputs)} can never happen; write at most {len(self.inputs)}", "at_least"
            )
        return self

    @property
    def field(self) -> str:
        """The field in which its inputs stand."""
        return "all_of" if self.all_of is not None else "any_of" if self.any_of is not None else "of"

    @property
    def inputs(self) -> tuple[str, ...]:
        """Names of the events and gates below it."""
        return self.all_of or self.any_of or self.of or ()


def _evidence(value: object) -> str | None:
    """`true` stands for the bound."""
    match value:
        case None | False:
            return None
        case True | "bound":
            return "bound"
        case "posterior":
            return "posterior"
    raise ValueError(f"it cannot be `{value}`; write `bound` or `posterior`")


_EVIDENCE_SCHEMA = WithJsonSchema({"enum": ["bound", "posterior", True, False]})


class ErrorCondition(Block):
    """A condition that makes errors likelier, by the HEART method."""

    effect: float = Field(ge=1, description="Greatest effect, 1 or more, from the list of the method.")
    share: OneProbability = Field(description="How much of it applies here, from 0 to 1.")
    because: Text | None = Field(None, description="What it is, and why so much of it.")


class HumanError(Block):
    """Probability of an error: the nominal value of the task, times (effect - 1) x share + 1 for each condition."""

    task: Literal["A", "B", "C", "D", "E", "F", "G", "H", "M"] = Field(
        description="Kind of task: A unfamiliar and hurried (0.55) to H with every support (0.00002); M anything else (0.03)."
    )
    conditions: Annotated[tuple[ErrorCondition, ...], one_or_many] = Field(
        (), description="What makes errors likelier."
    )


class FaultEvent(Block):
    """Something that goes wrong by itself, what it is in the register, and how likely it is per exposure.

    Its likelihood is one of `probability`; `rate` with `mission`, `test_interval` or `repair`; `heart`; `from_evidence`; `happens`.
    """

    title: Text | None = Field(None, description="What goes wrong, where its name does not say it.")
    part: Annotated[Id, refers("parts", "energy_sources", relation="has an event for")] | None = Field(
        None, description="The part or energy source that fails."
    )
    mode: Text | None = Field(None, description="How it fails, as listed under `fails` of the part.")
    control: Annotated[Id, refers("controls", relation="has an event for")] | None = Field(
        None, description="The control that does not act then; may stand beside the part or person that fails."
    )
    use_step: Annotated[Id, refers("use_steps", relation="has an event for")] | None = Field(
        None, description="The use step that goes wrong."
    )
    function: Annotated[Id, refers("functions", relation="has an event for")] | None = Field(
        None, description="The function that is lost."
    )
    person: Role | None = Field(None, description="The role that does not do what it should.")
    probability: OneProbability | None = Field(None, description="Probability per exposure or per demand.")
    rate: AnyQuantity | None = Field(
        None, description="Failures per time, such as `1e-5 1/h`; that of the part's failure mode if left out."
    )
    mission: Duration | None = Field(
        None, description="Time at risk; the event has happened at its end with 1 - exp(-rate x time)."
    )
    test_interval: Duration | None = Field(
        None,
        description="Time between checks of something dormant; on average over it 1 - (1 - exp(-rate x T)) / (rate x T).",
    )
    repair: Duration | None = Field(
        None, description="Mean time until it works again once it is found; alone, for a failure that announces itself."
    )
    announced: OneProbability | None = Field(
        None,
        description="Share of its failures that announce themselves, such as `60 %`; the rest waits for the check.",
    )
    heart: HumanError | None = Field(None, description="Error of a person by the HEART method.")
    from_evidence: Annotated[Literal["bound", "posterior"] | None, PlainValidator(_evidence), _EVIDENCE_SCHEMA] = Field(
        None,
        description="What the tests of `control` support: `bound`, the upper bound at the confidence of the policy, or "
        "`posterior`, the mean after its runs (Jeffreys prior); 1 without any.",
    )
    happens: bool | None = Field(None, description="House event: taken as there (true) or not there (false).")
    error_factor: float | None = Field(
        None, gt=1, description="95 % point of the probability over its median; the given value is the median."
    )
    source: Text | None = Field(None, description="Where the number comes from.")

    @model_validator(mode="before")
    @classmethod
    def _may_be_a_number(cls, data: object) -> object:
        if isinstance(data, str | int | float) and not isinstance(data, bool):
            return {"probability": data}
        return {} if data is None else data

    @model_validator(mode="after")
    def _is_likely_in_one_way(self) -> FaultEvent:
        ways = [
            name
            for name, given in (
                ("probability", self.probability is not None),
                ("mission", self.mission is not None),
                ("test_interval", self.test_interval is not None),
                ("repair", self.repair is not None and self.test_interval is None),
                ("heart", self.heart is not None),
                ("from_evidence", self.from_evidence is not None),
                ("happens", self.happens is not None),
            )
            if given
        ]
        if len(ways) > 1:
            raise FieldError(f"its likelihood is given twice, by `{ways[0]}` and by `{ways[1]}`; keep one", ways[1])
        if self.rate is not None:
            if self.rate.kind != "frequency":
                raise FieldError(
                    f"`{self.rate.written}` is a {self.rate.kind}; write failures per time, such as `1e-5 1/h`", "rate"
                )
            if self.rate.value < 0:
                raise FieldError(f"`{self.rate.written}` is negative, and a rate cannot be; take the minus out", "rate")
            if ways not in (["mission"], ["test_interval"], ["repair"]):
                raise FieldError(
                    "a `rate` needs a `mission` or a `test_interval` beside it; add `mission: 8 h`", "rate"
                )
        if self.announced is not None and (self.test_interval is None or self.repair is None):
            raise FieldError("`announced` needs a `test_interval` and a `repair` beside it; add both", "announced")
        for name in ("mission", "test_interval", "repair"):
            time = getattr(self, name)
            if time is not None and time.value <= 0:
                raise FieldError(f"`{time.written}` is no time at risk; write one above 0", name)
        if self.from_evidence is not None and self.control is None:
            raise FieldError(
                "`from_evidence` needs the `control` whose tests are the evidence; add `control:`", "from_evidence"
            )
        if self.error_factor is not None and (self.happens is not None or not ways):
            raise FieldError("an error factor needs a number that it spreads; add `probability:`", "error_factor")
        if self.error_factor is not None and self.from_evidence is not None:
            raise FieldError(
                "the runs of the control say how far its number spreads; take `error_factor` out", "error_factor"
            )
        if sum(each is not None for each in (self.part, self.use_step, self.function, self.person)) > 1:
            raise ValueError(
                "an event is one of `part`, `use_step`, `function` or `person`, with the `control` that falls with it; "
                "keep one"
            )
        if self.mode is not None and self.part is None:
            raise FieldError("`mode` needs the part that fails so; add `part:`", "mode")
        return self

    @property
    def elements(self) -> tuple[str, ...]:
        """What it is in the register: ids, or the role of a person; the control that falls with it last."""
        named = (self.part, self.use_step, self.function, self.person, self.control)
        return tuple(each for each in named if each is not None)


class CommonCause(Block):
    """Events that one cause can bring about together, such as two valves of one lot: by `beta` or by `alphas`."""

    of: tuple[Text, ...] = Field(min_length=2, description="Names of the events.")
    beta: OneProbability | None = Field(
        None, description="Share of the failures of one that strike all of them, such as `5 %`."
    )
    must_work: int | None = Field(
        None, ge=1, description="M of an M-out-of-N vote over them; beta is multiplied as IEC 61508-6 Table D.5 says."
    )
    alphas: tuple[float, ...] | None = Field(
        None, description="Alpha factors: share of the failures that strike 1, 2, ... of them; as many as events."
    )
    staggered: bool = Field(False, description="True where alpha factors go with tests of one after the other.")
    name: Text | None = Field(None, description="What strikes them; it is an event of its own in every answer.")
    source: Text | None = Field(None, description="Where the share comes from.")

    @model_validator(mode="after")
    def _has_one_share(self) -> CommonCause:
        if (self.beta is None) == (self.alphas is None):
            raise ValueError("a common cause has either a `beta` or `alphas`; write one, such as `beta: 5 %`")
        if self.must_work is not None and self.must_work >= len(self.of):
            raise FieldError(
                f"{self.must_work} of {len(self.of)} is no vote that outlives one failure; write less than {len(self.of)}",
                "must_work",
            )
        return self

    @property
    def called(self) -> str:
        """Its name, or what it does where it has none."""
        return self.name or f"failure of {', '.join(self.of)}"


class TreeSheet(Block):
    """A fault tree as it is typed: in a file of its own below `fault_tree:`, or in a register."""

    title: Text | None = Field(None, description="The outcome in one line.")
    top: Text = Field(description="Name of the gate or event that is the outcome.")
    gates: dict[Text, FaultGate] = Field(default_factory=dict, description="Gates by name.")
    events: dict[Text, FaultEvent] = Field(
        default_factory=dict, description="Events by name; a bare number is a probability."
    )
    common_cause: Annotated[tuple[CommonCause, ...], one_or_many] = Field(
        (), description="Groups of events with a common cause."
    )
    notes: Text | None = Field(None, description="Anything else.")

    @model_validator(mode="after")
    def _hangs_together(self) -> TreeSheet:
        known = self.gates.keys() | self.events.keys()
        for name in self.gates:
            if name in self.events:
                raise FieldError(f"`{name}` is a gate and an event; call one of them otherwise", "events", name)
        if self.top not in known:
            raise FieldError(f"the top `{self.top}` is neither a gate nor an event{_nearby(self.top, known)}", "top")
        for name, gate in self.gates.items():
            for place, below in enumerate(gate.inputs):
                if below not in known:
                    raise FieldError(
                        f"`{below}` is neither a gate nor an event{_nearby(below, known)}",
                        *("gates", name, gate.field, place),
                    )
        circle = self._circle()
        if circle:
            raise FieldError(
                f"the gates go round in a circle: {' -> '.join(circle)}; take one of these out", "gates", circle[0]
            )
        taken: dict[str, int] = {}
        for number, group in enumerate(self.common_cause):
            for place, name in enumerate(group.of):
                if name not in self.events:
                    raise FieldError(
                        f"`{name}` is no event{_nearby(name, self.events.keys())}", "common_cause", number, "of", place
                    )
                if name in taken:
                    raise FieldError(
                        f"`{name}` stands in two groups, or twice in one; keep one", "common_cause", number, "of", place
                    )
                taken[name] = number
        causes: set[str] = set()
        for number, group in enumerate(self.common_cause):
            if group.called in causes:
                raise FieldError(
                    f"two common causes are called `{group.called}`; give this one another name, or put all that one "
                    "cause strikes into one group",
                    *("common_cause", number, "name"),
                )
            causes.add(group.called)
        return self

    def _circle(self) -> tuple[str, ...]:
        """Gates that need each other, first one repeated at the end; empty where there are none."""
        done: set[str] = set()
        for start in self.gates:
            path: dict[str, Iterator[str]] = {}
            waiting = start
            while True:
                if waiting in path:
                    names = list(path)
                    return (*names[names.index(waiting) :], waiting)
                if waiting in self.gates and waiting not in done:
                    path[waiting] = iter(self.gates[waiting].inputs)
                following = None
                while path and following is None:
                    last = next(reversed(path))
                    following = next(path[last], None)
                    if following is None:
                        done.add(last)
                        del path[last]
                if following is None:
                    break
                waiting = following
        return ()

    def reached(self) -> frozenset[str]:
        """Names of the gates and events that the top needs."""
        found: set[str] = set()
        waiting = [self.top]
        while waiting:
            here = waiting.pop()
            if here not in found:
                found.add(here)
                gate = self.gates.get(here)
                waiting.extend(gate.inputs if gate is not None else ())
        return frozenset(found)

    def words(self, name: str) -> str:
        """What a gate or event is called on paper: its title, or its name."""
        found: Any = self.gates.get(name) or self.events.get(name)
        return (found.title if found is not None else None) or name


class FaultTree(TreeSheet, Record):
    """A fault tree of the register, for one hazard."""

    SECTION: ClassVar[str] = "fault_trees"
    hazard: Annotated[Id, refers("hazards", relation="is the fault tree of")] = Field(
        description="The hazard whose outcome stands at the top."
    )
    outcome: Literal["harm", "hazardous situation"] = Field(
        "harm",
        description="What the top is taken for. `harm` is the cautious reading: it takes every such situation to harm.",
    )
    owner: Role | None = Field(None, description="Who looks after it, by role.")
    parked: Parked | None = Field(None, description="Deliberately left, with an end.")


def _nearby(name: str, known: Any) -> str:
    """`; did you mean ...` where something is called nearly so."""
    import difflib

    near = difflib.get_close_matches(name, list(known), 1, 0.75)
    return f"; did you mean `{near[0]}`?" if near else ""
