"""Rules about dates, people and papers: what has run out, who has not answered, who checked whom."""

from __future__ import annotations

import datetime
from collections.abc import Iterator

from riskkit.checks import Context, Finding, rule
from riskkit.judgement.as_built import proposals
from riskkit.model.fields import Parked, Record, plain_words
from riskkit.model.prompts import Asked
from riskkit.model.records import Hazard, Part
from riskkit.model.upkeep import Comment, Decision, Observation, Sentence
from riskkit.model.verification import Assumption, Result, Test


@rule("error")
def assumption_without_owner(context: Context) -> Iterator[Finding]:
    """An assumption that nobody answers for.

    "Someone is always near" is true until the day it is not, and nobody will have said it.

    Bad:

        assumptions:
          A01: {text: an attendant is always within reach}   # <-

    Good:

        assumptions:
          A01: {text: an attendant is always within reach, owner: emergency physician}
    """
    for assumption in context.register.of(Assumption):
        if assumption.owner is None:
            yield Finding(
                assumption.id,
                (),
                f"nobody answers for {assumption.id}: {assumption.text}",
                "add `owner:` with a role; for a mark of harm it should be a clinician",
            )


@rule("warning")
def expired_assumption(context: Context) -> Iterator[Finding]:
    """An assumption that had to be looked at again by now.

    It was good for a time, and that time is over.

    Bad:

        assumptions:
          A01:
            text: the same filter stays available
            owner: bench group
            until: 2019-03-01   # <-

    Good:

        assumptions:
          A01:
            text: the same filter stays available
            owner: bench group
            until: 2199-03-01
    """
    for assumption in context.register.of(Assumption):
        if assumption.until is not None and assumption.until < context.today:
            yield Finding(
                assumption.id,
                ("until",),
                f"{assumption.id} was good until {assumption.until}",
                "look at it again, then write a new date or take out what leans on it",
            )


@rule("error")
def expired_parking(context: Context) -> Iterator[Finding]:
    """Something left for later, and later has come.

    What is parked without end is forgotten.

    Bad:

        tests:
          T01:
            title: emission of the gas path
            limit: {shows: laboratory report}
            parked: {reason: no laboratory yet, owner: bench group, until: 2019-03-01}   # <-

    Good:

        tests:
          T01:
            title: emission of the gas path
            limit: {shows: laboratory report}
            parked: {reason: no laboratory yet, owner: bench group, until: 2199-03-01}
    """
    parkable: tuple[Record, ...] = (
        *context.register.hazards,
        *context.register.tests,
        *context.register.of(Observation),
    )
    for record in parkable:
        parked = getattr(record, "parked", None)
        if isinstance(parked, Parked) and parked.until < context.today:
            yield Finding(
                record.id,
                ("parked", "until"),
                f"{record.id} was parked until {parked.until} by {parked.owner}: {parked.reason}",
                "do it now, or decide again with a new end",
            )


@rule("warning")
def observation_unanswered(context: Context) -> Iterator[Finding]:
    """Something seen on the bench that became neither a hazard nor a reason why not.

    The smell, the noise and the reset that nobody could explain are how hazards show themselves.

    Bad:

        observations:
          O01: {on: 2019-05-02, text: smell of hot plastic after 20 minutes}   # <-

    Good:

        observations:
          O01: {on: 2019-05-02, text: smell of hot plastic, no_hazard_because: it was the soldering iron beside it}
    """
    patience = datetime.timedelta(days=context.policy.observation_days)
    for observation in context.register.of(Observation):
        answered = observation.became or observation.no_hazard_because or observation.parked
        if not answered and context.today - observation.on > patience:
            yield Finding(
                observation.id,
                (),
                f"{observation.id} of {observation.on} has waited {(context.today - observation.on).days} days for an answer",
                "add `became:` with a hazard, or `no_hazard_because:`",
            )


@rule("error")
def date_in_the_future(context: Context) -> Iterator[Finding]:
    """A result, observation, comment or decision dated after today.

    Nobody can have done it yet.

    Bad:

        observations:
          O01:
            on: 2199-05-02   # <-
            text: smell of hot plastic

    Good:

        observations:
          O01: {on: 2026-11-20, text: smell of hot plastic, no_hazard_because: soldering iron}
    """
    dated: tuple[Result | Observation | Comment | Decision, ...] = (
        *context.register.of(Result),
        *context.register.of(Observation),
        *context.register.of(Comment),
        *context.register.of(Decision),
    )
    for record in dated:
        if record.on > context.today:
            yield Finding(
                record.id,
                ("on",),
                f"{record.id} is dated {record.on}, and today is {context.today}",
                "correct the date",
            )


@rule("error")
def same_person_built_and_checked(context: Context) -> Iterator[Finding]:
    """A check that needs two people, signed by one.

    Whoever made the mistake does not see it.

    Bad:

        units:
          U01:
            title: first unit
            checks:
              - {step: torque of the seal ring, two_people: true, by: builder-3, second: builder-3}   # <-

    Good:

        units:
          U01:
            title: first unit
            checks:
              - {step: torque of the seal ring, two_people: true, by: builder-3, second: builder-4}
    """
    for unit in context.register.units:
        for place, check in enumerate(unit.checks):
            if check.two_people and check.by is not None and check.second in (None, check.by):
                who = f"{check.by} alone" if check.second is None else f"{check.by} twice"
                yield Finding(
                    unit.id,
                    ("checks", place, "second"),
                    f"`{check.step}` of {unit.id} needs two people and is signed by {who}",
                    "have a second person check it and write the role under `second:`",
                )


@rule("warning")
def deviation_not_judged(context: Context) -> Iterator[Finding]:
    """A unit that differs from the drawings, and nobody has said what that means.

    A spring that is 12 % stiffer changes every pressure behind it.

    Bad:

        units:
          U01:
            title: first unit
            deviations:
              - {text: stiffer spring fitted, parts: P01}   # <-
        parts:
          P01: {title: outflow valve, no_hazard_because: example}

    Good:

        units:
          U01:
            title: first unit
            deviations:
              - text: stiffer spring fitted
                parts: P01
                judged: {verdict: repeat the level test, by: biomedical engineer, on: 2026-11-02}
        parts:
          P01: {title: outflow valve, no_hazard_because: example}
    """
    for unit in context.register.units:
        for place, deviation in enumerate(unit.deviations):
            if deviation.judged is None:
                lean = proposals(deviation, context.register, context.trace)
                these = f"; what leans on it: {_some([each.test for each in lean])}" if lean else ""
                yield Finding(
                    unit.id,
                    ("deviations", place),
                    f"nobody has judged that {unit.id} differs: {deviation.text}",
                    f"add `judged:` with verdict, by, on and the tests to `repeat:`{these}",
                    tuple((each.test, (), f"{each.test} {each.because}") for each in lean),
                )


def _some(ids: list[str], most: int = 8) -> str:
    return ", ".join(ids) if len(ids) <= most else f"{', '.join(ids[:most])} and {len(ids) - most} more"


@rule("error")
def major_comment_open(context: Context) -> Iterator[Finding]:
    """A reviewer's major comment without an answer.

    No answer, no second review.

    Bad:

        comments:
          M01: {on: 2026-11-02, by: emergency physician, weight: major, text: no vomit test on a mannequin}   # <-

    Good:

        comments:
          M01:
            on: 2026-11-02
            by: emergency physician
            weight: major
            text: no vomit test on a mannequin
            disposition: {kind: accepted, change: test T27 was added}
    """
    yield from _unanswered(context, major=True)


@rule("warning")
def comment_open(context: Context) -> Iterator[Finding]:
    """A reviewer's minor comment or question without an answer.

    A clinician's time is the scarcest thing that the project is given.

    Bad:

        comments:
          M01: {on: 2026-11-02, by: emergency physician, weight: question, text: what does it sound like}   # <-

    Good:

        comments:
          M01:
            on: 2026-11-02
            by: emergency physician
            weight: question
            text: what does it sound like
            disposition: {kind: declined, reason: a recording is in the repository}
    """
    yield from _unanswered(context, major=False)


def _unanswered(context: Context, *, major: bool) -> Iterator[Finding]:
    for comment in context.register.of(Comment):
        if comment.disposition is None and (comment.weight == "major") is major:
            yield Finding(
                comment.id,
                (),
                f"the {comment.weight} comment {comment.id} of the {comment.by} has no answer: {_short(comment.text)}",
                "add `disposition:` with kind accepted, declined, deferred or question back",
            )


@rule("warning")
def disposition_without_substance(context: Context) -> Iterator[Finding]:
    """An answer to a comment that says nothing: accepted without a change, declined without a reason.

    "Noted" is not an answer.

    Bad:

        comments:
          M01:
            on: 2026-11-02
            by: emergency physician
            weight: minor
            text: the tab is hard to find
            disposition: {kind: accepted}   # <-

    Good:

        comments:
          M01:
            on: 2026-11-02
            by: emergency physician
            weight: minor
            text: the tab is hard to find
            disposition: {kind: accepted, change: tab is red and 40 mm long}
    """
    for comment in context.register.of(Comment):
        answer = comment.disposition
        if answer is None:
            continue
        needs = {
            "accepted": ("change",),
            "declined": ("reason",),
            "deferred": ("owner", "until"),
            "question back": ("reason",),
        }[answer.kind]
        missing = [name for name in needs if getattr(answer, name) is None]
        if missing:
            yield Finding(
                comment.id,
                ("disposition",),
                f"{comment.id} is answered `{answer.kind}` without {' and '.join(missing)}",
                f"add `{missing[0]}:` under `disposition:`",
            )


@rule("error")
def sentence_not_translated(context: Context) -> Iterator[Finding]:
    """A critical sentence that is missing in a language which the project needs.

    The warning that is missing is missing for exactly those who need it.

    Bad:

        device: {name: bubble bottle, not_for: [people], stop_conditions: [smoke], languages: [en, nb]}
        sentences:
          X01: {text: {en: Do not use on a person.}}   # <-

    Good:

        device: {name: bubble bottle, not_for: [people], stop_conditions: [smoke], languages: [en, nb]}
        sentences:
          X01: {text: {en: Do not use on a person., nb: Skal ikke brukes på mennesker.}}
    """
    wanted = context.register.device.languages if context.register.device is not None else ()
    for sentence in context.register.of(Sentence):
        missing = [language for language in wanted if language not in sentence.text]
        if missing:
            yield Finding(
                sentence.id,
                ("text",),
                f'{sentence.id} is missing in {", ".join(missing)}: "{_short(next(iter(sentence.text.values())))}"',
                f"add `{missing[0]}:` under `text:`, and have it read by someone who speaks it",
            )


@rule("warning")
def superseded_without_reason(context: Context) -> Iterator[Finding]:
    """A result that replaces another without saying why.

    A reading that is not liked must not disappear behind a better one.

    Bad:

        tests:
          T01: {title: static level, limit: {at_most: 6 hPa}}
        results:
          R01: {test: T01, on: 2026-11-02, readings: {level: [2.6 hPa]}}
          R02: {test: T01, on: 2026-11-03, readings: {level: [5.1 hPa]}, supersedes: R01}   # <-

    Good:

        tests:
          T01: {title: static level, limit: {at_most: 6 hPa}}
        results:
          R01: {test: T01, on: 2026-11-02, readings: {level: [2.6 hPa]}}
          R02:
            test: T01
            on: 2026-11-03
            readings: {level: [5.1 hPa]}
            supersedes: R01
            superseded_because: R01 was read on one limb
    """
    for result in context.register.results:
        if result.supersedes is not None and result.superseded_because is None:
            yield Finding(
                result.id,
                ("supersedes",),
                f"{result.id} replaces {result.supersedes} without saying why",
                "add `superseded_because:`; the older result stays on file",
            )


@rule("warning")
def parked_severe_hazard(context: Context) -> Iterator[Finding]:
    """A severe hazard that is parked for more than 90 days.

    Something severe that is left has to be looked at again each season.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Flow stops
            condition: single fault
            harm: {text: carbon dioxide poisoning, severity: 5}
            parked: {reason: waits for the flap, owner: bench group, until: 2199-01-01}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Strap marks
            condition: normal
            harm: {text: pressure mark, severity: 2}
            parked: {reason: waits for the strap, owner: bench group, until: 2199-01-01}
    """
    for hazard in context.register.of(Hazard):
        if hazard.parked is None or not context.is_severe(hazard):
            continue
        days = (hazard.parked.until - context.today).days
        if days > 90:
            yield Finding(
                hazard.id,
                ("parked", "until"),
                f"{hazard.id} has severity {hazard.severity} and is parked for {days} days",
                f"write an end no later than {context.today + datetime.timedelta(days=90)}",
            )


@rule("warning")
def test_without_stop(context: Context) -> Iterator[Finding]:
    """A test of a severe hazard that does not say when it is stopped at once.

    The test that shows the worst case can be the worst case.

    Bad:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            tests: [T01]
        tests:
          T01: {title: full speed into the closed hood, limit: {at_most: 20 hPa}}   # <-

    Good:

        policy: five-by-five
        hazards:
          H01:
            title: Overpressure
            condition: single fault
            harm: {text: lung injury, severity: 4}
            tests: [T01]
        tests:
          T01: {title: full speed into the closed hood, limit: {at_most: 20 hPa}, stop: 25 hPa on the gauge}
    """
    device = context.register.device
    if device is not None and device.stop_conditions:
        return
    severe = {id for hazard in context.standing_hazards if context.is_severe(hazard) for id in hazard.tests}
    for test in context.register.of(Test):
        if test.id in severe and test.stop is None:
            yield Finding(
                test.id,
                ("stop",),
                f"{test.id} does not say when it is stopped at once",
                "add `stop:`, or `stop_conditions:` under `device:`",
            )


def _short(text: str, most: int = 60) -> str:
    return text if len(text) <= most else text[: most - 3].rstrip() + "..."


@rule("warning")
def unit_differs_unsaid(context: Context) -> Iterator[Finding]:
    """A unit built with another version or lot than the drawings, without a deviation that says so.

    Whoever reads its results takes them for those of the design.

    Bad:

        units:
          U01: {title: first unit, parts: {P05: firmware 0.9.2}}   # <-
        parts:
          P05: {title: controller, version: firmware 0.9.4, no_hazard_because: example}

    Good:

        units:
          U01:
            title: first unit
            parts: {P05: firmware 0.9.2}
            deviations:
              - text: older firmware
                parts: P05
                judged: {verdict: no difference before the menu, by: biomedical engineer, on: 2026-11-02}
        parts:
          P05: {title: controller, version: firmware 0.9.4, no_hazard_because: example}
    """
    for unit in context.register.units:
        said = {part for deviation in unit.deviations for part in deviation.parts}
        for id, fitted in unit.parts.items():
            part = context.register.get(id, Part)
            if part is None or part.version is None or id in said or unit.retired is not None:
                continue
            if plain_words(fitted) != plain_words(part.version):
                yield Finding(
                    unit.id,
                    ("parts", id),
                    f"{unit.id} has {fitted} for {id} ({part.title}), and the drawings have {part.version}",
                    f"fit what is drawn, or add a deviation that names {id}, and have it judged",
                )


@rule("warning")
def unit_check_not_filled_in(context: Context) -> Iterator[Finding]:
    """A check of the build that nobody has done, or nobody has signed.

    An empty line on the card looks like a detail and is usually the step that was too hard.

    Bad:

        units:
          U01: {title: first unit, checks: [{step: torque of the seal ring}]}   # <-

    Good:

        units:
          U01: {title: first unit, checks: [{step: torque of the seal ring, reading: 1.2 N·m, by: builder-1}]}
    """
    for unit in context.register.units:
        for place, check in enumerate(unit.checks):
            if unit.retired is None and check.by is None:
                yield Finding(
                    unit.id,
                    ("checks", place),
                    f"nobody has signed the check `{check.step}` of {unit.id}",
                    "do it, and write what was found, `by:` and `on:`",
                )


@rule("warning")
def yes_without_hazard(context: Context) -> Iterator[Finding]:
    """A question of the prompt grid that was answered with yes, and of which no hazard came.

    Somebody said that it can happen. Until a hazard says so, nothing is done about it and no reviewer reads it.

    Bad:

        parts:
          P03: {title: blower, class: blower}
        asked:
          Q-P03-KMT: {about: P03, grid: parts, way: stops, answer: yes, on: 2026-11-25}   # <-

    Good:

        parts:
          P03: {title: blower, class: blower}
        asked:
          Q-P03-KMT: {about: P03, grid: parts, way: stops, answer: yes, on: 2026-11-25, became: [H01]}
        hazards:
          H01:
            title: the flow stops
            condition: single fault
            harm: {text: to be found out, severity: 5}
    """
    for each in context.register.of(Asked):
        if each.answer == "yes" and not each.became:
            about = f" about {each.about}" if each.about is not None else ""
            yield Finding(
                each.id,
                ("answer",),
                f"{each.id} was answered with yes{about} ({each.way}), and no hazard came of it",
                "add the hazard and name it under `became:`, or answer with no and why",
            )
