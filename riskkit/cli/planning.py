"""`plan`: what runs, hours and readings can show, before and after they are made. A command line of its own.

It is loaded only when `plan` is asked for, so that its options cost nothing at every other start.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated, Optional

import typer

from riskkit.cli.opening import one_of, open_register
from riskkit.cli.plan_words import hours_of, interval_sentences, numbers_of, percent, print_answer, prior_of, share_of
from riskkit.diagnostics import RiskkitError

app = typer.Typer(
    name="plan",
    help="What runs, hours and readings can show. Every answer names its estimand, method, level and side.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

Format = Annotated[str, typer.Option("--format", metavar="text|json", help="How the answer is printed.")]
Confidence = Annotated[str, typer.Option("--confidence", metavar="LEVEL", help="Confidence, such as 95% or 0.95.")]
Proportion = Annotated[
    str, typer.Option("--proportion", metavar="SHARE", help="Proportion that has to hold, such as 95% or 0.95.")
]
Sides = Annotated[str, typer.Option("--sides", metavar="upper|lower|two-sided", help="One bound, or both ends.")]
Failures = Annotated[int, typer.Option("--failures", metavar="N", help="Failures counted.")]
Allowed = Annotated[int, typer.Option("--failures", metavar="N", help="Failures at which the plan still passes.")]
Runs = Annotated[int, typer.Option("--runs", metavar="N", help="Runs.")]


@app.command("runs")
def plan_runs(
    proportion: Proportion, confidence: Confidence = "95%", failures: Allowed = 0, format: Format = "text"
) -> None:
    """How many runs show a proportion, with no failure or with a few. Exact binomial."""
    from riskkit.evidence import plans

    answer = plans.runs_needed(share_of(proportion), share_of(confidence), failures)
    least = "without a failure" if not failures else f"with at most {failures} failed"
    print_answer(
        answer,
        format,
        f"{answer.runs} runs {least} show that at least {percent(answer.proportion)} hold, at "
        f"{percent(answer.confidence)} confidence (one-sided; this number of runs reaches "
        f"{percent(answer.achieved_confidence)}).",
        f"Method: {answer.method}.",
        estimand="proportion of runs that hold",
        sides="lower",
    )


@app.command("shows")
def plan_shows(
    runs: Runs,
    failures: Failures = 0,
    confidence: Confidence = "95%",
    sides: Sides = "upper",
    method: Annotated[
        str,
        typer.Option("--method", metavar="clopper-pearson|wilson|jeffreys", help="Exact, by score, or Bayesian."),
    ] = "clopper-pearson",
    format: Format = "text",
) -> None:
    """What runs that were made show about the probability of failure, and what they cannot show."""
    from riskkit.evidence import plans, proportions

    one_of("--method", method, ("clopper-pearson", "wilson", "jeffreys"))
    way = {
        "clopper-pearson": proportions.clopper_pearson,
        "wilson": proportions.wilson,
        "jeffreys": proportions.jeffreys,
    }
    level = share_of(confidence)
    interval = way[method](failures, runs, level, sides)  # type: ignore[arg-type]
    shown = plans.what_runs_show(runs, failures, level)
    further = [
        {"proportion": each.proportion, "shown": each.shown, "further_runs": each.further, "runs_in_all": each.total}
        for each in shown.further
    ]
    print_answer(
        interval,
        format,
        *interval_sentences(interval),
        f"By {shown.failure_bound.method}, one-sided: {shown.can}",
        shown.cannot,
        shown.assumptions,
        question={"runs": runs, "failures": failures},
        further=further,
    )


@app.command("passes")
def plan_passes(
    runs: Runs,
    failures: Allowed = 0,
    true: Annotated[
        Optional[list[str]], typer.Option("--true", metavar="P", help="True probability of failure; may be repeated.")
    ] = None,
    passing: Annotated[
        Optional[list[str]],
        typer.Option("--passing", metavar="P", help="Probability of passing, to find the true failure share for it."),
    ] = None,
    format: Format = "text",
) -> None:
    """What a plan passes wrongly and rejects wrongly: its operating characteristic."""
    from riskkit.evidence import plans
    from riskkit.exchange.answers import answer_data

    points = [plans.passing_probability(runs, failures, share_of(each)) for each in true or ()]
    found = [plans.quality_passed(runs, failures, share_of(each)) for each in passing or ()]
    if not points and not found:
        points = [plans.passing_probability(runs, failures, each) for each in (0.01, 0.02, 0.05, 0.1, 0.2, 0.5)]
    told = {
        "runs": runs,
        "failures_allowed": failures,
        "estimand": "probability that the plan passes, at a true probability of failure in one run",
        "method": "exact binomial operating characteristic",
        "points": [answer_data(each) for each in points],
        "failure_probability_for_passing": [answer_data(each) for each in found],
    }
    sentences = [
        f"Of things that truly fail in {percent(each.true_failure_probability)} of runs it passes "
        f"{percent(each.passing)} and rejects {percent(each.rejecting)}."
        for each in points
    ]
    sentences += [
        f"It passes with probability {percent(each.probability)} what truly fails in "
        f"{percent(each.failure_probability)} of runs."
        for each in found
    ]
    print_answer(told, format, f"A plan of {runs} runs with at most {failures} failed (exact binomial):", *sentences)


@app.command("hours")
def plan_hours(
    hours: Annotated[str, typer.Option("--hours", metavar="T", help="Hours in all, over all units: 72 or `3 d`.")],
    failures: Failures = 0,
    confidence: Confidence = "95%",
    sides: Annotated[
        Optional[str],
        typer.Option(
            "--sides", metavar="upper|lower|two-sided", help="Upper for a rate, lower for a mean time if left out."
        ),
    ] = None,
    ended: Annotated[
        str, typer.Option("--ended", metavar="time|failure", help="What ended the test: its time, or a failure.")
    ] = "time",
    of: Annotated[str, typer.Option("--of", metavar="rate|mean-time", help="What is bounded.")] = "rate",
    format: Format = "text",
) -> None:
    """What hours with so many failures show about a constant failure rate, or the mean time between failures."""
    from riskkit.evidence import rates

    one_of("--ended", ended, ("time", "failure"))
    one_of("--of", of, ("rate", "mean-time"))
    way = rates.rate_interval if of == "rate" else rates.mean_time_interval
    side = sides or ("upper" if of == "rate" else "lower")
    long = hours_of(hours, "--hours")
    interval = way(failures, long, share_of(confidence), side, ended)  # type: ignore[arg-type]
    question = {"hours": long, "failures": failures, "ended_by": ended}
    print_answer(interval, format, *interval_sentences(interval), question=question)


@app.command("test-hours")
def plan_test_hours(
    mean_time: Annotated[
        str, typer.Option("--mean-time", metavar="T", help="Mean time between failures: hours, or such as `20 d`.")
    ],
    confidence: Confidence = "95%",
    failures: Allowed = 0,
    format: Format = "text",
) -> None:
    """How many hours show a mean time between failures."""
    from riskkit.evidence import rates

    goal = hours_of(mean_time, "--mean-time")
    answer = rates.test_time_needed(goal, share_of(confidence), failures)
    print_answer(
        answer,
        format,
        f"{answer.time:.6g} {answer.unit} in all, with at most {failures} failed, show a mean time between failures of at "
        f"least {goal:g} {answer.unit} at {percent(answer.confidence)} confidence: {answer.factor:.4g} times as long.",
        f"Method: {answer.method}.",
        estimand="mean time between failures",
        sides="lower",
    )


@app.command("tolerance")
def plan_tolerance(
    proportion: Proportion,
    confidence: Confidence = "95%",
    sides: Sides = "upper",
    readings: Annotated[Optional[int], typer.Option("--readings", metavar="N", help="Number of readings.")] = None,
    values: Annotated[
        Optional[str], typer.Option("--values", metavar="LIST", help='The readings, such as "17.2 17.6 17.4".')
    ] = None,
    mean: Annotated[Optional[float], typer.Option("--mean", metavar="X", help="Their mean.")] = None,
    spread: Annotated[
        Optional[float], typer.Option("--spread", metavar="S", help="Their standard deviation (n - 1).")
    ] = None,
    at_most: Annotated[Optional[float], typer.Option("--at-most", metavar="X", help="Upper limit.")] = None,
    at_least: Annotated[Optional[float], typer.Option("--at-least", metavar="X", help="Lower limit.")] = None,
    method: Annotated[
        str, typer.Option("--method", metavar="exact|howe|natrella", help="Exact, or an approximation of handbooks.")
    ] = "exact",
    format: Format = "text",
) -> None:
    """Normal tolerance factors and limits: what single values stay within, from a few readings."""
    from riskkit.evidence import tolerance
    from riskkit.exchange.answers import answer_data

    one_of("--method", method, ("exact", "howe", "natrella"))
    share, level = share_of(proportion), share_of(confidence)
    numbers = numbers_of(values)
    if numbers is None and (mean is None or spread is None):
        if readings is None:
            raise RiskkitError("nothing to work with", "give --readings for a factor, or --values for limits")
        factor = tolerance.tolerance_factor(readings, share, level, sides, method=method)  # type: ignore[arg-type]
        told = f"k = {factor.factor:.6g} for {readings} readings, {percent(share)} of all values, {percent(level)} confidence"
        print_answer(factor, format, f"{told}, {factor.sides}.", f"Method: {factor.method}.")
        return
    limits = tolerance.tolerance_limits(
        numbers,
        share,
        level,
        sides,  # type: ignore[arg-type]
        mean=None if numbers is not None else mean,
        spread=None if numbers is not None else spread,
        readings=None if numbers is not None else readings,
        method=method,  # type: ignore[arg-type]
    )
    needed = None
    if at_most is not None or at_least is not None:
        needed = tolerance.readings_needed(limits.mean, limits.spread, share, level, lower=at_least, upper=at_most)
    ends = [
        f"{name} {end:.6g}" for name, end in (("lower", limits.lower), ("upper", limits.upper)) if math.isfinite(end)
    ]
    said = f"Tolerance limit{'s' if len(ends) > 1 else ''} for {percent(share)} of all values at {percent(level)} confidence: "
    print_answer(
        limits,
        format,
        f"{said}{', '.join(ends)} (mean {limits.mean:.6g}, s {limits.spread:.4g}, k {limits.factor:.5g}, {limits.sides}).",
        f"Method: {limits.method}; it {limits.caution}.",
        *([needed.because[0].upper() + needed.because[1:] + "."] if needed else []),
        readings_needed=None if needed is None else answer_data(needed),
    )


@app.command("order")
def plan_order(
    proportion: Proportion,
    confidence: Confidence = "95%",
    sides: Sides = "upper",
    discard: Annotated[int, typer.Option("--discard", metavar="N", help="Extreme readings set aside in all.")] = 0,
    readings: Annotated[
        Optional[int],
        typer.Option("--readings", metavar="N", help="Give the number, and the confidence is worked out."),
    ] = None,
    format: Format = "text",
) -> None:
    """How many readings for the largest, or smallest and largest, to bound a proportion; no distribution assumed."""
    from riskkit.evidence import orders

    share = share_of(proportion)
    if readings is None:
        answer = orders.wilks_readings(share, share_of(confidence), sides, discard)  # type: ignore[arg-type]
    else:
        answer = orders.wilks_confidence(readings, share, sides, discard)  # type: ignore[arg-type]
    print_answer(
        answer,
        format,
        f"{answer.readings} readings: {answer.limits} bound {percent(share)} of all values with "
        f"{percent(answer.confidence)} confidence ({answer.sides}).",
        f"Method: {answer.method}.",
    )


@app.command("life")
def plan_life(
    life: Annotated[str, typer.Option("--life", metavar="T", help="Life at which it has to work: hours, or a time.")],
    shape: Annotated[float, typer.Option("--shape", metavar="B", help="Assumed shape of the Weibull distribution.")],
    proportion: Proportion,
    confidence: Confidence = "95%",
    failures: Allowed = 0,
    test_time: Annotated[
        Optional[str], typer.Option("--test-time", metavar="T", help="Time each unit runs; the units are worked out.")
    ] = None,
    units: Annotated[
        Optional[int], typer.Option("--units", metavar="N", help="Units on test; the time of each is worked out.")
    ] = None,
    format: Format = "text",
) -> None:
    """How many units for how long show a life, at an assumed Weibull shape."""
    from riskkit.evidence import weibull

    share, level, goal = share_of(proportion), share_of(confidence), hours_of(life, "--life")
    if (test_time is None) == (units is None):
        raise RiskkitError("one of time and units is given, and the other worked out", "give --test-time or --units")
    if test_time is not None:
        answer = weibull.weibull_units(goal, hours_of(test_time, "--test-time"), shape, share, level, failures)
    else:
        assert units is not None
        answer = weibull.weibull_test_time(units, goal, shape, share, level, failures)
    print_answer(
        answer,
        format,
        f"{answer.units} units for {answer.test_time:.6g} h each, with at most {failures} failed, show that "
        f"{percent(share)} still work at {goal:g} h, at {percent(level)} confidence.",
        answer.assumption,
        f"Method: {answer.method}.",
    )


@app.command("update")
def plan_update(
    prior: Annotated[
        str,
        typer.Option("--prior", metavar="A,B", help="Prior: a,b of a beta; shape,time of a gamma; or jeffreys."),
    ],
    failures: Failures = 0,
    runs: Annotated[Optional[int], typer.Option("--runs", metavar="N", help="Runs: updates a probability.")] = None,
    hours: Annotated[Optional[str], typer.Option("--hours", metavar="T", help="Hours: updates a rate.")] = None,
    probability: Annotated[str, typer.Option("--probability", metavar="LEVEL", help="Probability inside.")] = "90%",
    sides: Sides = "two-sided",
    mission: Annotated[
        Optional[float], typer.Option("--mission", metavar="T", help="Hours without failure, for a rate.")
    ] = None,
    format: Format = "text",
) -> None:
    """What was believed before and what runs or hours add to it. The prior is part of the answer."""
    from riskkit.evidence import updates
    from riskkit.exchange.answers import answer_data

    if (runs is None) == (hours is None):
        raise RiskkitError("runs update a probability, hours a rate", "give --runs or --hours")
    level = share_of(probability)
    if runs is not None:
        a, b = prior_of(prior, updates.JEFFREYS_BETA)
        answer = updates.update_beta(a, b, failures, runs, level, sides)  # type: ignore[arg-type]
    else:
        assert hours is not None
        a, b = prior_of(prior, updates.JEFFREYS_GAMMA)
        answer = updates.update_gamma(a, b, failures, hours_of(hours, "--hours"), level, sides)  # type: ignore[arg-type]
    survives = updates.mission_reliability(answer, mission) if mission is not None else None
    interval = answer.interval
    sentences = [
        f"Before: {answer.prior.words}. Data: {answer.data}. After: {answer.words}.",
        f"Mean {answer.mean:.5g}; {percent(interval.confidence)} {interval.sides}: {interval.lower:.5g} to "
        f"{interval.upper:.5g} {interval.unit}".rstrip()
        + ".",
        f"Method: {answer.method}; estimand: {answer.estimand}.",
    ]
    if survives is not None:
        sentences.append(
            f"No failure in {mission:g} h: {survives.at_mean_rate:.5g} at the mean rate, {survives.expected:.5g} expected."
        )
    print_answer(answer, format, *sentences, mission=None if survives is None else answer_data(survives))


@app.command("test")
def plan_test(
    test: Annotated[str, typer.Argument(metavar="TEST", help="Test, such as T07.")],
    folder: Annotated[Path, typer.Argument(help="Folder of the register.", show_default="this folder")] = Path("."),
    format: Format = "text",
) -> None:
    """What the plan of a test in a register can and cannot show."""
    from riskkit.cli.judging import outlook_sentences
    from riskkit.exchange.verdicts import outlook_data
    from riskkit.judgement.outlook import outlook
    from riskkit.model.verification import Test

    assessment = open_register(folder, None)
    found = assessment.register.get(test, Test)
    if found is None:
        raise RiskkitError(f"there is no test {test}", "name a test of the register, such as T07")
    ahead = outlook(found, assessment.samples.get(test), assessment.policy.evidence)
    if ahead is None:
        raise RiskkitError(f"{test} plans no runs", "add `plan: {runs: 20, confidence: 95 %, proportion: 95 %}` to it")
    print_answer(
        {"test": test, **outlook_data(ahead)}, format, f"{test}, {found.title}.", *outlook_sentences(ahead, found)
    )


def run(arguments: Sequence[str]) -> None:
    """`riskkit plan` with these arguments."""
    app(list(arguments), prog_name="riskkit plan")
