"""Policies: the shipped ones by name, a project's own by file, and small changes on top of either."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any, cast

from pydantic import ValidationError

from riskkit import shelves
from riskkit.diagnostics import RiskkitError
from riskkit.model.policy import Policy
from riskkit.text.complaints import complaints, listed, nearest
from riskkit.text.syntax import parse_file

DEFAULT_POLICY = "five-by-five"

Problem = tuple[str, tuple[str, ...], str]


def shipped_policies() -> tuple[str, ...]:
    """Names of the policies that come with riskkit."""
    return tuple(sorted(path.stem for path in (shelves.data_dir("catalogs") / "policies").glob("*.yaml")))


def policy_data(content: object) -> tuple[object, Problem | None]:
    """The full policy behind what a register says under `policy:`.

    A bare name stands for a shipped policy; `{use: NAME, ...}` takes a shipped policy and changes
    the fields that are named beside it (`exposure` stands for the exposure of its likelihood scale).

    Returns:
        The data of the policy, and what is wrong with the request (sentence, path, what to type).
    """
    if isinstance(content, str):
        content = {"use": content}
        path: tuple[str, ...] = ()
    else:
        path = ("use",)
    if not isinstance(content, Mapping) or "use" not in content:
        return content, None
    name, names = str(content["use"]), shipped_policies()
    if name not in names:
        guess = nearest(name, names)
        return content, (
            f"there is no shipped policy `{name}`; there are {listed(names)}",
            path,
            f"write `{guess}`" if guess else f"write one of {listed(names)}",
        )
    changes = {key: value for key, value in content.items() if key not in ("use", "exposure")}
    data = dict(_shipped_data(name)) | changes
    if "exposure" in content and isinstance(data.get("likelihood"), Mapping):
        data["likelihood"] = dict(data["likelihood"]) | {"exposure": content["exposure"]}
    return data, None


def _shipped_data(name: str) -> Mapping[str, Any]:
    path = shelves.data_dir("catalogs") / "policies" / f"{name}.yaml"
    return cast(Mapping[str, Any], parse_file(path.name, path.read_bytes()).data["policy"])


def shipped_policy(name: str = DEFAULT_POLICY) -> Policy:
    """A policy that comes with riskkit.

    Raises:
        RiskkitError: where there is none of that name.
    """
    data, problem = policy_data(name)
    if problem is not None:
        raise RiskkitError(problem[0], problem[2])
    return Policy.model_validate(data)


def load_policy(name_or_file: str) -> Policy:
    """A shipped policy by name, or the `policy:` section of a YAML file.

    Raises:
        RiskkitError: one sentence with file and line where the file cannot be read as a policy.
    """
    if name_or_file in shipped_policies():
        return shipped_policy(name_or_file)
    path = Path(name_or_file)
    if not path.is_file():
        raise RiskkitError(
            f"there is no policy file {name_or_file}",
            f"name a YAML file with a `policy:` section, or one of {listed(shipped_policies())}",
        )
    document = parse_file(name_or_file, path.read_bytes())
    for found in document.diagnostics:
        raise RiskkitError(f"{found.place}: {found.headline}", found.help)
    if not isinstance(document.data, dict) or "policy" not in document.data:
        raise RiskkitError(f"{name_or_file} has no section `policy:`", "put the policy below `policy:`")
    data, problem = policy_data(document.data["policy"])
    if problem is not None:
        raise RiskkitError(f"{document.place(('policy', *problem[1]))}: {problem[0]}", problem[2])
    try:
        return Policy.model_validate(data)
    except ValidationError as error:
        given = data if isinstance(data, Mapping) else {}
        first = next(complaints(error, Policy, given))
        place = document.place(("policy", *first.path), key=first.at_key)
        raise RiskkitError(f"{place}: {first.headline}", first.help) from None
