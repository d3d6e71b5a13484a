"""What is not claimed, what the device is made of, how the project judges: sections 1, 3 and 4."""

from __future__ import annotations

from dataclasses import dataclass

from riskkit.assess import Assessment
from riskkit.dossier.cautions import QUESTIONS_FOR_AUTHORITIES, REGULATION, VERSION, cautions
from riskkit.dossier.chains import Chain, Node
from riskkit.dossier.view.telling import Teller, counted
from riskkit.model.policy import Policy
from riskkit.model.records import Device, EnergySource, Function, Part, UseStep
from riskkit.model.upkeep import Sentence

NOT_STATED = "not stated"
FIGURE_PARTS = 40
SIDE_BY_SIDE = 1500
"""Characters on both scales together up to which they stand side by side on one page."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Section 1: fixed sentences, and what the project adds."""

    version: int
    sentences: tuple[str, ...]
    not_for: tuple[str, ...]
    must_never: tuple[str, ...]
    stop_conditions: tuple[str, ...]
    stated: tuple[tuple[str, str, str], ...]
    critical: tuple[tuple[str, tuple[tuple[str, str, str], ...]], ...]
    regulation: str
    questions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PartLine:
    """A part with its version, ratings and ways of failing."""

    id: str
    title: str
    part_class: str | None
    version: str
    ratings: tuple[str, ...]
    fails: tuple[str, ...]
    supplied_by: tuple[str, ...]
    firmware: str | None
    remarks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Item:
    """A function, use step or energy source in one line."""

    id: str
    title: str
    details: tuple[str, ...]
    parts: tuple[str, ...]


@dataclass(frozen=True)
class DeviceSheet:
    """Section 3."""

    summary: tuple[str, ...]
    facts: tuple[tuple[str, tuple[str, ...]], ...]
    parts: tuple[PartLine, ...]
    functions: tuple[Item, ...]
    use_steps: tuple[Item, ...]
    energy: tuple[Item, ...]
    chain: Chain | None


@dataclass(frozen=True, slots=True)
class Band:
    """A step of a scale."""

    level: str
    word: str
    edges: str
    means: str
    severe: bool = False


@dataclass(frozen=True)
class Method:
    """Section 4: scales, matrix, regions, and who owns them."""

    title: str
    source: str
    decided_by: str | None
    exposure: str
    edge_rule: str
    severity: tuple[Band, ...]
    likelihood: tuple[Band, ...]
    matrix: tuple[tuple[str, tuple[tuple[int, str], ...]], ...]
    regions: tuple[tuple[int, str, str, bool], ...]
    observation_days: int
    alarm_margin: str | None
    evidence: tuple[tuple[str, str], ...]

    @property
    def is_short(self) -> bool:
        """Whether both scales can stand side by side."""
        return sum(len(band.word) + len(band.means) for band in (*self.severity, *self.likelihood)) < SIDE_BY_SIDE


def limits(assessment: Assessment, tell: Teller) -> Limits:
    """Section 1."""
    device = assessment.register.device or Device(name=NOT_STATED)
    stop = tell.each(device.stop_conditions, "device")
    sentences = tuple(
        (
            record.id,
            tuple(
                (language, tell(text, record.id), tell(record.reviewed.get(language, "nobody has read it"), record.id))
                for language, text in record.text.items()
            ),
        )
        for record in assessment.register.of(Sentence)
    )
    return Limits(
        version=VERSION,
        sentences=cautions(stop),
        not_for=tell.each(device.not_for, "device"),
        must_never=tell.each(device.must_never, "device"),
        stop_conditions=stop,
        stated=tuple(
            (tell(limit.what, "device"), tell(limit.limit, "device"), tell(limit.owner or "nobody", "device"))
            for limit in device.limits
        ),
        critical=sentences,
        regulation=REGULATION,
        questions=QUESTIONS_FOR_AUTHORITIES,
    )


def device_sheet(assessment: Assessment, tell: Teller) -> DeviceSheet:
    """Section 3."""
    register = assessment.register
    device = register.device
    facts: list[tuple[str, tuple[str, ...]]] = []
    if device is not None:
        for label, texts in (
            ("Studied for", (device.purpose,)),
            ("Stage", (device.stage,)),
            ("Built by", (device.group,)),
            ("Touches a person", device.touches),
            ("Must never happen", device.must_never),
        ):
            said = tuple(tell(text, "device") for text in texts if text is not None)
            facts.append((label, said or (NOT_STATED,)))
    return DeviceSheet(
        summary=tell.each(device.summary, "device") if device is not None else (),
        facts=tuple(facts),
        parts=tuple(_part(part, tell) for part in register.parts),
        functions=tuple(_item(each, tell, each.parts) for each in register.of(Function)),
        use_steps=tuple(
            _item(step, tell, step.parts, f"by {step.who}" if step.who else "")
            for step in sorted(register.of(UseStep), key=lambda step: step.order or 0)
        ),
        energy=tuple(
            _item(source, tell, source.carried_by, source.amount.written if source.amount else "")
            for source in register.of(EnergySource)
        ),
        chain=_supply(assessment, tell),
    )


def _part(part: Part, tell: Teller) -> PartLine:
    where = part.id
    fails = []
    for failure in part.fails:
        notices = {True: ", tells by itself", False: ", nobody notices", None: ""}[failure.announces]
        rate = f", {failure.rate.written}" if failure.rate else ""
        fails.append(f"{failure.mode}{rate}{notices}")
    remarks = [f"replaced at {part.life_limit.written}"] if part.life_limit else []
    if part.no_hazard_because:
        remarks.append(f"no hazard found, because {part.no_hazard_because}")
    if part.notes:
        remarks.append(part.notes)
    return PartLine(
        id=part.id,
        title=tell(part.title, where),
        part_class=tell.maybe(part.part_class, where),
        version=tell(part.version or NOT_STATED, where),
        ratings=tuple(tell(f"{name} {value.written}", where) for name, value in part.ratings.items()),
        fails=tell.each(fails, where),
        supplied_by=part.supplied_by,
        firmware=tell.maybe(part.firmware_sha256, where),
        remarks=tell.each(remarks, where),
    )


def _item(record: Function | UseStep | EnergySource, tell: Teller, parts: tuple[str, ...], detail: str = "") -> Item:
    details = [detail] if detail else []
    if record.no_hazard_because:
        details.append(f"no hazard found, because {record.no_hazard_because}")
    if record.notes:
        details.append(record.notes)
    return Item(record.id, tell(record.title, record.id), tell.each(details, record.id), parts)


def _supply(assessment: Assessment, tell: Teller) -> Chain | None:
    """What supplies what, for the block figure; None where nothing is stated."""
    register = assessment.register
    links = [
        (source, part.id, "supplies")
        for part in register.parts
        for source in part.supplied_by
        if source in register.records
    ]
    links += [
        (source.id, part, "is carried by")
        for source in register.of(EnergySource)
        for part in source.carried_by
        if part in register.records
    ]
    links = [link for link in dict.fromkeys(links) if link[0] != link[1]]
    if not links:
        return None
    order = tuple(dict.fromkeys(id for link in links for id in link[:2]))
    kept = order[:FIGURE_PARTS]
    nodes = tuple(
        Node(
            id,
            register.records[id].SECTION,
            "part" if register.get(id, Part) else "energy",
            tell.name(register.title_of(id), id),
        )
        for id in kept
    )
    inside = tuple(link for link in links if link[0] in kept and link[1] in kept)
    return Chain("", nodes, inside, len(order) - len(kept))


def _evidence_rules(policy: Policy) -> tuple[tuple[str, str], ...]:
    """What each kind of evidence may support, line by line."""
    rules = policy.evidence
    most = policy.likelihood.levels[0].level

    def below(bands: int) -> str:
        return f"{counted(bands, 'band')} below {most}" if bands else f"nothing below {most}"

    return (
        ("Opinion, no test", below(0)),
        ("Runs of a test", f"their one-sided upper Clopper-Pearson bound at {rules.confidence.written} confidence"),
        (
            "Runs on one unit",
            f"the same, and never less than {rules.one_unit.written}, since the spread of a lot is unseen",
        ),
        (
            "Independent controls, each with a test of its own",
            f"the product of their bounds and {rules.common_cause.written} of the best one's as common cause, never less "
            f"than {rules.barriers.written}",
        ),
        (
            "Inherent limit, by calculation and measurement",
            f"{below(rules.inherent_limit_bands)}, while the parts are unchanged",
        ),
        ("Bought part with stated data, inside its ratings", "as its data say, with the document on file"),
        ("Field records with known exposure", f"the chi-square bound at {rules.confidence.written} confidence"),
        ("Information alone", f"{below(rules.information_bands)}, and nothing where the harm is severe"),
        ("Guard band of a verdict", f"{rules.guard_band:g} times the expanded uncertainty (k = 2) inside each limit"),
    )


def method(assessment: Assessment, tell: Teller) -> Method:
    """Section 4."""
    policy = assessment.policy
    scale = policy.likelihood
    bands, upper = [], ""
    lower_sign, upper_sign = ("≥", "<") if scale.edge == "in the band above" else (">", "≤")
    for band in scale.levels:
        if band.eliminated:
            edges = "the hazard is no longer there"
        elif band.above is None:
            edges = upper or "any probability"
        else:
            edges = f"{lower_sign} {band.above.written}{f' and {upper}' if upper else ''}"
        if band.above is not None:
            upper = f"{upper_sign} {band.above.written}"
        bands.append(
            Band(
                tell(band.level, "policy"),
                tell(band.word, "policy"),
                tell(edges, "policy"),
                tell(band.means or "", "policy"),
            )
        )
    return Method(
        title=tell(policy.title, "policy"),
        source=tell(policy.source or NOT_STATED, "policy"),
        decided_by=tell.maybe(policy.decided_by, "policy"),
        exposure=tell(scale.exposure, "policy"),
        edge_rule=scale.edge,
        severity=tuple(
            Band(
                tell(step.level, "policy"),
                tell(step.word, "policy"),
                "",
                tell(step.means or "", "policy"),
                rank >= policy.severe_rank,
            )
            for rank, step in enumerate(policy.severity)
        ),
        likelihood=tuple(bands),
        matrix=tuple(
            (
                tell(band.level, "policy"),
                tuple(
                    (policy.region_rank(name) + 1, tell(name, "policy"))
                    for step in policy.severity
                    for name in (policy.matrix[band.level][step.level],)
                ),
            )
            for band in scale.levels
        ),
        regions=tuple(
            (rank, tell(region.name, "policy"), tell(region.means or NOT_STATED, "policy"), region.decision)
            for rank, region in enumerate(policy.regions, start=1)
        ),
        observation_days=policy.observation_days,
        evidence=tuple((kind, tell(words, "policy")) for kind, words in _evidence_rules(policy)),
        alarm_margin=tell(policy.alarm_margin.written, "policy") if policy.alarm_margin else None,
    )
