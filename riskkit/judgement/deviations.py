"""The questions that need no catalog: guide words on functions, slips in use steps, energy, surroundings.

Guide words are those of IEC 61882 by subject, slips those that IEC 62366-1 asks for; the sentences are ours.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from riskkit.model.catalog import GuideWord, Slip

OF_FUNCTIONS: Mapping[GuideWord, str] = MappingProxyType(
    {
        "no": "What if this is not done at all: {what}?",
        "less": "What if this is done too weakly or too little: {what}?",
        "more": "What if this is done too strongly or too much: {what}?",
        "reverse": "What if the opposite of this happens: {what}?",
        "part of": "What if only one part of this is done and the rest is not: {what}?",
        "other than": "What if something quite different happens instead of this: {what}?",
        "as well as": "What if something else happens together with this: {what}?",
        "late": "What if this begins or ends too late: {what}?",
        "early": "What if this begins or ends too early: {what}?",
        "before": "What if this happens before something that has to come first: {what}?",
        "after": "What if this happens only after something that it has to come before: {what}?",
    }
)
"""Guide word -> the question about a function."""

OF_STEPS: Mapping[Slip, str] = MappingProxyType(
    {
        "forgotten": "What if this step is forgotten: {what}?",
        "wrong order": "What if this step is done too early or too late among the others: {what}?",
        "wrong item": "What if this step is done with the wrong item, or at the wrong place: {what}?",
        "misunderstood": "What if somebody takes this step to mean something else: {what}?",
        "not seen": "What if what has to be seen in this step is not seen: {what}?",
        "misread": "What if a reading or a mark is misread in this step: {what}?",
        "wrong strength": "What if this step is done too hard, too loosely, too far or not far enough: {what}?",
        "interrupted": "What if somebody is called away in the middle of this step: {what}?",
        "too slow": "What if this step takes three times as long as planned: {what}?",
        "improvised": "What if the right thing is not at hand and somebody improvises in this step: {what}?",
    }
)
"""Slip -> the question about a step of use."""

OF_ENERGY: Mapping[str, str] = MappingProxyType(
    {
        "is gone": "{what}: what if this is suddenly gone while somebody depends on it?",
        "comes back": "{what}: what if this comes back by itself after it was gone?",
        "reaches a person by touch": "{what}: what if a person touches this, or what it has made hot, live or moving?",
        "reaches a person through the gas": "{what}: what if this reaches a person through what they breathe?",
        "reaches a part it should not": "{what}: what if this gets into a part that is not made for it?",
        "reaches something that burns": "{what}: what if this meets something that burns?",
        "is stored when it should not be": "{what}: what if some of this is still stored after switching off?",
        "reaches a bystander": "{what}: what if this reaches somebody beside the device?",
    }
)
"""Way in which energy reaches a target, or is absent -> the question about it."""

OF_SURROUNDINGS: Mapping[str, str] = MappingProxyType(
    {
        "something else on the same supply": "What if something else on the same supply trips it or pulls it down?",
        "another device on the same person": "What if another device is connected to the same person or the same gas?",
        "altitude": "What if it is used high above the sea, where air is thin?",
        "cold": "What if it comes from the cold, or is used in it?",
        "heat": "What if it is used in a hot room or in the sun?",
        "rain and spray": "What if rain, spray or a spilt cup gets to it?",
        "condensation": "What if moist air condenses inside it?",
        "movement": "What if it is carried, driven, or used on a boat?",
        "dust and smoke": "What if the air around it carries dust, smoke or exhaust?",
        "radio": "What if a radio or a telephone transmits close beside it?",
        "noise and darkness": "What if it is so loud or so dark that nobody hears or sees what it tells?",
        "other gases": "What if the gas around it, or the one connected, is not the one expected?",
        "children and animals": "What if a child or an animal gets to it?",
        "a long outage": "What if help or power comes hours later than planned?",
    }
)
"""Surroundings -> the question about the device as a whole."""

USUAL_WEIGHT = 2
"""Severity, from 1 to 5, that is taken for a question about which no catalog says more. Common practice, no source."""

PLAIN_FAILURES: Mapping[str, str] = MappingProxyType(
    {
        "does nothing": "{what}: what if it does nothing any more?",
        "acts when it should not": "{what}: what if it acts when it should not?",
        "breaks or comes loose": "{what}: what if it breaks, leaks or comes loose?",
        "ages": "{what}: what if it has aged, worn or become dirty?",
        "is built wrong": "{what}: what if somebody builds it in the wrong way round, or leaves it out?",
    }
)
"""Ways to fail of a part about whose class the catalog says nothing. Common practice, no source."""
