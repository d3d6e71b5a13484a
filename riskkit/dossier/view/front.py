"""The front sheet: one page for a clinician.

A question without an answer is printed with the words `not stated`; none is left out. Every text has
a least number of lines and gets more, line by line, as long as the page holds them all; what is still
too long is cut. So one page it stays, whatever stands in the register. Widths and sizes are those of
print.css.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from riskkit.assess import Assessment
from riskkit.dossier.bars import alarm_bar
from riskkit.dossier.cautions import cautions
from riskkit.dossier.figures import Figure
from riskkit.dossier.lettering import Face, fit, wrap
from riskkit.dossier.view import telling
from riskkit.dossier.view.device import NOT_STATED
from riskkit.dossier.view.gaps import OpenList
from riskkit.dossier.view.risks import FaultPicture
from riskkit.dossier.view.telling import Teller
from riskkit.judgement.alarms import AlarmBudget
from riskkit.judgement.story import assumption_words
from riskkit.model.records import Device, FrontSheet, Hazard

TEXT_WIDTH = 482.0
ANSWER_WIDTH = 182.0
SIDE_WIDTH = 206.0
ASKED_WIDTH = 255.0
CAUTION_WIDTH = 143.0
ROOM = MappingProxyType({"a4": 771.0, "letter": 721.0})
"""Height of the sheet by paper [pt], a little less than print.css gives it."""

_DETAIL = re.compile(r" \([^()]*\)")
"""What stands in brackets in a headline: the sheet has room for the sentence itself, and that it must not cut."""

WEAKEST = 5
QUESTIONS = 3


@dataclass(frozen=True, slots=True)
class Style:
    """How a kind of text is set: face, size, distance of the lines, width of its column, room below it."""

    face: Face
    size: float
    leading: float
    width: float
    below: float = 0.0

    @property
    def room(self) -> float:
        """Width that words may take; a little of the column is kept back for what kerning adds."""
        return self.width * 0.97

    def cut(self, words: str, lines: int = 1) -> str:
        """Words that fit into so many lines."""
        return " ".join(fit(words, self.size, self.room, lines, self.face))

    def height(self, lines: int) -> float:
        """Height of so many lines [pt]."""
        return lines * self.leading + self.below


NAME = Style("serif-bold", 28, 30, 330)
ABOUT = Style("sans", 9.4, 12, 340)
SUMMARY = Style("serif", 10.0, 13.6, TEXT_WIDTH)
NOT_FOR = Style("serif", 9.4, 12.6, TEXT_WIDTH - 27)
ALARM = Style("serif", 8.8, 11.6, TEXT_WIDTH)
ANSWER = Style("serif", 8.6, 11.0, ANSWER_WIDTH, 4.3)
DECIDES = Style("serif", 8.4, 10.6, ASKED_WIDTH, 5.7)
WEAK_TITLE = Style("sans-bold", 7.8, 9.8, SIDE_WIDTH - 14.5)
WEAK = Style("serif", 8.2, 10.3, SIDE_WIDTH - 14.5, 3.4)
WEAK_WORDS = Style("serif", 8.4, 10.6, SIDE_WIDTH, 5.7)
CAUTION = Style("sans", 6.3, 7.85, CAUTION_WIDTH, 1.4)
CAUTION_LINES = 7


@dataclass(frozen=True, slots=True)
class Slot:
    """A text on the sheet with the lines that it would take in full, and the least and most that it may get."""

    style: Style
    words: str
    least: int
    most: int

    @property
    def full(self) -> int:
        """Lines of the whole text, no more than it may get."""
        return min(len(wrap(self.words, self.style.size, self.style.room, self.style.face)), self.most)


@dataclass(frozen=True, slots=True)
class Answer:
    """One thing a clinician asks, and what the register answers."""

    question: str
    answer: str
    stated: bool


@dataclass(frozen=True, slots=True)
class WeakPoint:
    """An open finding on one of the severest hazards."""

    heading: str
    headline: str


@dataclass(frozen=True)
class Front:
    """Everything on page one."""

    name: str
    about: str
    summary: str
    not_for: str
    alarm: Figure | None
    alarm_words: str
    answers: tuple[Answer, ...]
    weak: tuple[WeakPoint, ...]
    weak_words: str
    questions: tuple[str, ...]
    decides: str
    cautions: tuple[str, ...]


def front(assessment: Assessment, tell: Teller, gaps: OpenList, faults: FaultPicture, page: str = "a4") -> Front:
    """Page one, cut to the paper."""
    device = assessment.register.device or Device(name="A device without a name")
    sheet = device.front_sheet or FrontSheet()
    figure, alarm_words = _time_against_alarm(assessment, tell, faults)
    weak = _weakest(assessment, tell, gaps)
    asked = _asked(device, sheet, tell)
    questions = _questions(sheet, tell)
    fixed = _cautions(tell.each(device.stop_conditions, "device"))
    slots = {
        "not_for": Slot(NOT_FOR, _not_for(device, tell), 1, 4),
        "alarm": Slot(ALARM, alarm_words, 2, 4),
        "summary": Slot(SUMMARY, _summary(device, tell), 3, 5),
        **{f"weak {place}": Slot(WEAK, gap, 1, 5) for place, (_, gap) in enumerate(weak)},
        **{f"answer {place}": Slot(ANSWER, text or NOT_STATED, 1, 6) for place, (_, text) in enumerate(asked)},
        **{f"question {place}": Slot(WEAK, text, 1, 4) for place, text in enumerate(questions)},
        **{f"title {place}": Slot(WEAK_TITLE, title, 1, 2) for place, (title, _) in enumerate(weak)},
        "decides": Slot(DECIDES, _decides(assessment, tell), 5, 5),
        "weak words": Slot(WEAK_WORDS, _weak_words(len(weak), gaps), 3, 3),
    }
    lines = _fitted(slots, figure, fixed, ROOM[page])

    def said(name: str) -> str:
        return slots[name].style.cut(slots[name].words, lines[name]) if lines[name] else ""

    about = f"Revision {device.revision or NOT_STATED} · {device.group or f'group {NOT_STATED}'}"
    return Front(
        name=NAME.cut(tell(device.name, "device")),
        about=ABOUT.cut(tell(about, "device")),
        summary=said("summary"),
        not_for=said("not_for"),
        alarm=figure,
        alarm_words=said("alarm"),
        answers=tuple(
            Answer(question, said(f"answer {place}"), text is not None) for place, (question, text) in enumerate(asked)
        ),
        weak=tuple(WeakPoint(said(f"title {place}"), said(f"weak {place}")) for place in range(len(weak))),
        weak_words=said("weak words"),
        questions=tuple(said(f"question {place}") for place in range(len(questions))),
        decides=said("decides"),
        cautions=fixed,
    )


def _fitted(slots: Mapping[str, Slot], figure: Figure | None, fixed: Sequence[str], room: float) -> Mapping[str, int]:
    """Lines of each text: the least at first, then one more for each in turn while the page holds them."""
    full = {name: slot.full for name, slot in slots.items()}
    lines = {name: min(slot.least, full[name]) for name, slot in slots.items()}
    for _ in range(max(slot.most for slot in slots.values())):
        for name in slots:
            wider = lines | {name: lines[name] + 1}
            if lines[name] < full[name] and _height(slots, wider, figure, fixed) <= room:
                lines = wider
    return lines


def _height(slots: Mapping[str, Slot], lines: Mapping[str, int], figure: Figure | None, fixed: Sequence[str]) -> float:
    """Height that a sheet takes [pt]: head, warning, time, the higher of the two columns, cautions."""

    def tall(*kinds: str) -> float:
        named = [name for name in slots if name.startswith(kinds) and lines[name]]
        return sum(slots[name].style.height(lines[name]) for name in named)

    head = 67.2 + tall("summary")
    warning = 31.6 + tall("not_for")
    time = 24.3 + (figure.height if figure else 0.0) + tall("alarm")
    left = tall("answer") + 18.0 + tall("decides")
    right = 2 * (13.5 + 7.4) + tall("weak", "title", "question")
    heights = [CAUTION.height(len(wrap(text, CAUTION.size, CAUTION.room, CAUTION.face))) for text in fixed]
    return head + warning + time + 6.2 + max(left, right) + 22.0 + _balanced(heights, 3)


def _balanced(heights: Sequence[float], columns: int) -> float:
    """Least height of so many columns that hold these paragraphs in their order, none of them split."""

    def needed(limit: float) -> int:
        count, filled = 1, 0.0
        for height in heights:
            if filled and filled + height > limit:
                count, filled = count + 1, 0.0
            filled += height
        return count

    sums = {sum(heights[start:end]) for start in range(len(heights)) for end in range(start + 1, len(heights) + 1)}
    return min(limit for limit in sums if limit >= max(heights) and needed(limit) <= columns)


def _summary(device: Device, tell: Teller) -> str:
    """What it is, as one paragraph."""
    texts = tell.each(device.summary, "device")
    return (
        " ".join(text if text.endswith((".", "!", "?")) else f"{text}." for text in texts)
        or f"What it is: {NOT_STATED}."
    )


def _cautions(conditions: tuple[str, ...]) -> tuple[str, ...]:
    """The twelve sentences, word for word. Only the project's stop conditions give way, with a word on how many."""
    for kept in range(len(conditions), -1, -1):
        shown = list(conditions[:kept])
        if kept < len(conditions):
            shown.append(f"{len(conditions) - kept} {'more' if kept else 'conditions'}, all in section 1")
        sentences = cautions(shown)
        if all(len(wrap(text, CAUTION.size, CAUTION.room, CAUTION.face)) <= CAUTION_LINES for text in sentences):
            break
    return sentences


def _not_for(device: Device, tell: Teller) -> str:
    who = "; ".join(text.rstrip(" .") for text in tell.each(device.not_for, "device"))
    return f"Not for: {who}." if who else f"Who must not use it: {NOT_STATED}."


def _asked(device: Device, sheet: FrontSheet, tell: Teller) -> tuple[tuple[str, str | None], ...]:
    """What a clinician asks, and what the register answers."""
    asked = (
        ("Stage", device.stage),
        ("Measured", "; ".join(sheet.measured) or None),
        ("Highest pressure", sheet.highest_pressure),
        ("When it stops", sheet.when_it_stops),
        ("Room air when off", sheet.room_air_when_off),
        ("Getting it off", sheet.removal),
        ("Not measured", "; ".join(sheet.not_measured) or None),
        ("Cleaning", sheet.cleaning),
    )
    return tuple((question, tell.maybe(text, "the front sheet")) for question, text in asked)


def _time_against_alarm(assessment: Assessment, tell: Teller, faults: FaultPicture) -> tuple[Figure | None, str]:
    """The alarm with the least time left, and how many others there are."""
    timed = [alarm for alarm in faults.alarms if alarm.late is not None]
    late = sum(alarm.late is True for alarm in timed)
    untold = len(faults.alarms) - len(timed)
    if not faults.alarms:
        return None, "No alarm is listed, so that nothing is known about its time."
    counts = (
        f"Of {telling.counted(len(faults.alarms), 'alarm')} (counted per hazard), {late} {'comes' if late == 1 else 'come'} later than the harm "
        f"and {untold} cannot be told."
    )
    if not timed:
        return None, f"{counts} No hazard with an alarm states a time to harm."
    worst = timed[0]
    budget = next(each for each in assessment.alarms if (each.hazard, each.control) == (worst.hazard, worst.control))
    figure = alarm_bar(
        f"{worst.hazard}, {worst.control}",
        [(name, delay.value) for name, delay in budget.steps],
        budget.time_to_harm.value if budget.time_to_harm is not None else None,
        "until harm",
    )
    return figure, tell(f"{_against(budget, assessment)} {counts}", worst.hazard)


def _against(budget: AlarmBudget, assessment: Assessment) -> str:
    """ "H01, flow stops: 66 s from fault to act, 58 s until harm, by assumption A01, not yet confirmed by ..." """
    limit = budget.time_to_harm
    until = (
        f", {telling.seconds(limit.value)} until harm{assumption_words(budget.assumption, assessment.register)}"
        if limit
        else ""
    )
    title = assessment.register.title_of(budget.hazard)
    return f"{budget.hazard}, {title}: {telling.seconds(budget.total_seconds)} from the fault to the act{until}."


def _weakest(assessment: Assessment, tell: Teller, gaps: OpenList) -> tuple[tuple[str, str], ...]:
    """The worst open finding of each of the severest hazards under the hazard's name, no finding twice."""
    policy = assessment.policy

    def order(hazard: Hazard) -> tuple[int, int, int]:
        found = gaps.of_hazard.get(hazard.id, ())
        region = assessment.scores[hazard.id].region
        rank = policy.region_rank(region) if region is not None else -1
        errors = sum(gap.weight in ("error", "unreadable") for gap in found)
        return (-policy.severity_rank(hazard.severity), rank, -errors)

    points: list[tuple[str, str]] = []
    used: set[int] = set()
    for hazard in sorted(assessment.register.hazards, key=order):
        own = [gap for gap in gaps.of_hazard.get(hazard.id, ()) if gap.number not in used]
        if not own:
            continue
        worst = min(own, key=lambda gap: (gap.weight == "warning", gap.record != hazard.id, gap.number))
        used.add(worst.number)
        heading = f"{hazard.id} · severity {tell(hazard.severity, hazard.id)} · {tell(hazard.title, hazard.id)}"
        points.append((heading, _DETAIL.sub("", worst.headline)))
        if len(points) == WEAKEST:
            break
    return tuple(points)


def _weak_words(found: int, gaps: OpenList) -> str:
    if found == WEAKEST:
        return ""
    if not gaps.gaps:
        return "The rules of riskkit find nothing open. No person has said that nothing is."
    return f"The rules of riskkit find {found} that weaken a hazard; the open list has the rest."


def _questions(sheet: FrontSheet, tell: Teller) -> tuple[str, ...]:
    asked = [tell(question, "the front sheet") for question in sheet.questions[:QUESTIONS]]
    return (*asked, *[NOT_STATED] * (QUESTIONS - len(asked)))


def _decides(assessment: Assessment, tell: Teller) -> str:
    role = assessment.policy.decided_by
    owner = f"The scales of this register are owned by: {role}." if role else "Nobody owns the scales of this register."
    return (
        "Not we. Law and authorities where you are decide what may be done, an ethics body where people are involved, "
        f"a licensed clinician for every single person. {tell(owner, 'policy')}"
    )
