"""Rules: each looks at what was already worked out and says in one sentence what is missing.

A rule is one function. Its docstring is its explanation, its reference page and its test: the YAML
under `Bad:` must be found at the lines marked `# <-`, the YAML under `Good:` must not.
Rules compute nothing that is worked out elsewhere, print nothing and know no files.
"""

from __future__ import annotations

import datetime
import inspect
import textwrap
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING

from riskkit import shelves
from riskkit.diagnostics import Severity
from riskkit.judgement.alarms import AlarmBudget
from riskkit.judgement.calculations import Worked
from riskkit.judgement.fault_trees import WorkedTree
from riskkit.judgement.freshness import Freshness
from riskkit.judgement.samples import SampleVerdict
from riskkit.judgement.scoring import HazardScore
from riskkit.judgement.signatures import Signature
from riskkit.judgement.status import Status
from riskkit.judgement.support import Support
from riskkit.judgement.trace import Trace
from riskkit.judgement.verdicts import ResultVerdict, by_test
from riskkit.judgement.walk import SharedElement, SingleFault
from riskkit.model.fields import Record
from riskkit.model.policy import Policy
from riskkit.model.prompts import Asked
from riskkit.model.records import Control, Hazard
from riskkit.model.register import Register
from riskkit.text.evidence_files import EvidenceFile

if TYPE_CHECKING:
    from riskkit.model.catalog import Entry
    from riskkit.model.references import Path


@dataclass(frozen=True, slots=True)
class Finding:
    """One gap: the record and field it is about, a sentence, what to type.

    `record` is an id, "device" or "policy", "section of ID" for the section in which a record stands,
    or "" for the register as a whole; `path` leads from the record to the field.
    `related` are further records (id, path, words) that belong to it.
    """

    record: str
    path: Path
    headline: str
    help: str
    related: tuple[tuple[str, Path, str], ...] = ()


@dataclass(frozen=True)
class Context:
    """Everything a rule may look at. All of it is worked out before the first rule runs."""

    register: Register
    policy: Policy
    today: datetime.date
    trace: Trace
    scores: Mapping[str, HazardScore]
    statuses: Mapping[str, Status]
    shared: tuple[SharedElement, ...]
    faults: tuple[SingleFault, ...]
    alarms: tuple[AlarmBudget, ...]
    fingerprints: Mapping[str, str]
    verdicts: Mapping[str, ResultVerdict]
    supports: Mapping[str, Support]
    samples: Mapping[str, SampleVerdict]
    worked: Mapping[str, Worked]
    trees: Mapping[str, WorkedTree]
    freshness: Mapping[str, Freshness]
    suspects: frozenset[str] | None = None
    """Records in whose text a word stands that a wording rule looks at; None where nobody has looked."""
    evidence: Mapping[str, EvidenceFile] | None = None
    """What stands under the paths that results name as evidence; None where nobody has looked."""
    void: tuple[Signature, ...] = ()
    """Signatures that were given for something else than stands there now; the register is without them."""
    catalog: Mapping[str, tuple[Entry, ...]] | None = None
    """Id of each adopted record -> the entries that the catalogs have for it now; None where nobody has looked."""

    def verdicts_of(self, test: str) -> tuple[ResultVerdict, ...]:
        """Verdicts on the results of a test that no later result replaces."""
        return self._by_test.get(test, ())

    @cached_property
    def _by_test(self) -> Mapping[str, tuple[ResultVerdict, ...]]:
        return by_test(self.verdicts)

    def live_controls(self, hazard: Hazard) -> tuple[Control, ...]:
        """The controls of a hazard that exist and are not withdrawn."""
        found = self.register.all_of(hazard.controls, Control)
        return tuple(control for control in found if control.withdrawn is None)

    def is_severe(self, hazard: Hazard) -> bool:
        """Whether the harm counts as severe under the policy."""
        return self.policy.severity_rank(hazard.severity) >= self.policy.severe_rank

    def is_gone(self, hazard: Hazard) -> bool:
        """Whether the hazard is claimed to be eliminated."""
        claimed = hazard.likelihood.claimed
        return claimed is not None and claimed.eliminated

    @cached_property
    def standing_hazards(self) -> tuple[Hazard, ...]:
        """Hazards that are neither claimed to be eliminated nor parked until a day to come."""
        return tuple(
            hazard
            for hazard in self.register.hazards
            if not self.is_gone(hazard) and not (hazard.parked is not None and hazard.parked.until >= self.today)
        )

    @cached_property
    def named_controls(self) -> frozenset[str]:
        """Ids of controls that any hazard names."""
        return frozenset(id for hazard in self.register.hazards for id in hazard.controls)

    @cached_property
    def asked_about(self) -> frozenset[str]:
        """Ids of everything that any hazard points at, or about which a question was answered."""
        named = {link.target for hazard in self.register.hazards for link in self.trace.outgoing(hazard.id)}
        answered = {each.about for each in self.register.of(Asked) if each.about is not None and each.answer != "later"}
        return frozenset(named | answered)

    @cached_property
    def section_of_hazards(self) -> str:
        """Where a finding about all hazards together is shown: at the section in which the first one stands."""
        return f"section of {self.register.hazards[0].id}"

    def severe_hazards_of(self, record: Record) -> tuple[Hazard, ...]:
        """Severe hazards that a record belongs to: itself, or those that point at it."""
        if isinstance(record, Hazard):
            return (record,) if self.is_severe(record) else ()
        sources = dict.fromkeys(link.source for link in self.trace.incoming(record.id))
        return tuple(hazard for hazard in self.register.all_of(sources, Hazard) if self.is_severe(hazard))


RuleFunction = Callable[[Context], Iterator[Finding]]


@dataclass(frozen=True, slots=True)
class Rule:
    """A named check. `breaks` marks rules whose findings mean that the register contradicts itself."""

    name: str
    severity: Severity
    function: RuleFunction
    breaks: bool = False

    @property
    def explanation(self) -> str:
        """The docstring without its examples."""
        return inspect.cleandoc(self.function.__doc__ or "").partition("\nBad:")[0].strip()

    @property
    def headline(self) -> str:
        """First sentence of the explanation."""
        return self.explanation.partition("\n")[0]

    @property
    def bad(self) -> str:
        """YAML that the rule must find, with `# <-` at the end of each line to be reported."""
        return _example(self.function, "Bad:")

    @property
    def good(self) -> str:
        """YAML that the rule must leave alone."""
        return _example(self.function, "Good:")


def rule(severity: str, *, breaks: bool = False) -> Callable[[RuleFunction], Rule]:
    """Make a rule of a function; its name is the function's name with hyphens.

    Args:
        severity: "error", "warning" or "note".
        breaks: True where a finding means that the register cannot be taken as written.
    """

    def make(function: RuleFunction) -> Rule:
        return Rule(function.__name__.replace("_", "-"), Severity[severity.upper()], function, breaks)

    return make


def _example(function: RuleFunction, heading: str) -> str:
    lines = inspect.cleandoc(function.__doc__ or "").split("\n")
    if heading not in lines:
        return ""
    taken = []
    for line in lines[lines.index(heading) + 1 :]:
        if line and not line.startswith(" "):
            break
        taken.append(line)
    return textwrap.dedent("\n".join(taken)).strip("\n") + "\n"


def all_rules() -> tuple[Rule, ...]:
    """Every rule, in the order of its file and name."""
    return shelves.collect("riskkit.checks", Rule)


def run(context: Context) -> Iterator[tuple[Rule, Finding]]:
    """All findings of all rules."""
    for each in all_rules():
        for finding in each.function(context):
            yield each, finding
