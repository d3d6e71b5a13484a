"""Events of the YAML parser, reduced to what reading needs.

libyaml's binding makes one object per event, 700,000 of them for a large register. These classes hold
what the builder looks at, and where values end, which editing looks at; they are made in one call. Names,
order of arguments and attributes are those that the binding expects of `ruamel.yaml.events`.
"""

from __future__ import annotations

from typing import Any


class StreamStartEvent:
    """The file begins."""

    __slots__ = ()

    def __init__(self, *_: Any, **__: Any) -> None: ...


class StreamEndEvent(StreamStartEvent):
    """The file ends."""

    __slots__ = ()


class DocumentStartEvent:
    """A document begins."""

    __slots__ = ("start_mark",)

    def __init__(self, start_mark: Any = None, *_: Any, **__: Any) -> None:
        self.start_mark = start_mark


class DocumentEndEvent(StreamStartEvent):
    """A document ends."""

    __slots__ = ()


class AliasEvent:
    """`*name` stands for something that was named before."""

    __slots__ = ("anchor", "end_mark", "start_mark")

    def __init__(self, anchor: Any, start_mark: Any = None, end_mark: Any = None, *_: Any, **__: Any) -> None:
        self.anchor = anchor
        self.start_mark = start_mark
        self.end_mark = end_mark


class ScalarEvent:
    """A word, a number or a text; `implicit` is (plain and untagged, quoted and untagged)."""

    __slots__ = ("anchor", "end_mark", "implicit", "start_mark", "tag", "value")

    def __init__(
        self,
        anchor: Any,
        tag: Any,
        implicit: Any,
        value: Any,
        start_mark: Any = None,
        end_mark: Any = None,
        *_: Any,
        **__: Any,
    ) -> None:
        self.anchor = anchor
        self.tag = tag
        self.implicit = implicit
        self.value = value
        self.start_mark = start_mark
        self.end_mark = end_mark


class MappingStartEvent:
    """A group of `key: value` begins; `implicit` is false where it has a tag."""

    __slots__ = ("anchor", "implicit", "start_mark", "tag")

    def __init__(self, anchor: Any, tag: Any, implicit: Any, start_mark: Any = None, *_: Any, **__: Any) -> None:
        self.anchor = anchor
        self.tag = tag
        self.implicit = implicit
        self.start_mark = start_mark


class SequenceStartEvent(MappingStartEvent):
    """A list begins."""

    __slots__ = ()


class MappingEndEvent:
    """A group ends."""

    __slots__ = ("end_mark",)

    def __init__(self, start_mark: Any = None, end_mark: Any = None, *_: Any, **__: Any) -> None:
        self.end_mark = end_mark


class SequenceEndEvent(MappingEndEvent):
    """A list ends."""

    __slots__ = ()
