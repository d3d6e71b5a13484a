"""Why each finding about the files themselves matters: what `explain` says where no rule of the register is meant."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType


def format_rules() -> Mapping[str, str]:
    """Name of a finding about the files -> what it means and why it matters."""
    return _FORMAT_RULES


_FORMAT_RULES: Mapping[str, str] = MappingProxyType(
    {
        "alias-bomb": "Aliases that unfold to far more than was typed.\n"
        "A small file can be made to fill any memory that way; nobody needs it in a register.",
        "bad-quantity": "A number whose unit is missing, unknown or of the wrong kind.\n"
        "12 cmH2O and 12 hPa differ by two per cent, 12 psi by a factor of seventy: a bare 12 is no reading.",
        "bad-value": "A value that does not fit its field or its neighbours.\nThe sentence says what was expected.",
        "complex-key": "A key that is a list or a group.\nKeys of a register are words or ids.",
        "control-character": "An invisible character that steers a terminal or a printer.\n"
        "Nobody types one on purpose; it comes from copying, or from someone who wants to hide something.",
        "duplicate-id": "One id used for two records.\n"
        "Every reference to it would be ambiguous; after a merge of two branches this is the usual accident.",
        "duplicate-key": "One key written twice in a group.\n"
        "Most readers silently keep the last one, and half of what was typed is lost.",
        "duplicate-section": "`device` or `policy` in two files.\nA register describes one device under one policy.",
        "edit-interrupted": "An edit of several files that stopped in the middle.\n"
        "Some files hold the new text and some the old one; everything that is needed to finish is still there.",
        "empty-list": "A list that needs at least one entry.\nThe sentence says which.",
        "empty-text": "A text with nothing in it.\nAn empty text is not an answer; leave the line out, so that the gap shows.",
        "file-is-a-folder": "A folder with the name of a YAML file.\nIt was probably meant to be a file.",
        "file-too-large": "A file that is too large to be typed by hand.\nRecordings belong beside the register, not into it.",
        "file-unreadable": "A file that cannot be opened.\nWhat stands in it is missing from every answer.",
        "merge-key": "The key `<<`.\nYAML 1.2 has no merge; write the fields out, so that a reader sees them.",
        "missing-field": "A field that every record of this kind needs.\nWithout it the record says too little to be used.",
        "missing-id": "An entry without an id.\nNothing can point at it.",
        "not-a-mapping": "A file whose top is not made of sections.\nA file of the register is `section:`, below it ids, below them fields.",
        "not-a-number": "An infinite or undefined number.\nNo reading and no limit is one.",
        "not-an-id": "Something that is no id where an id is expected.\nIds are short: letters and digits, such as H04 or T07-2.",
        "not-utf8": "Bytes that are not UTF-8.\nOther encodings show different letters on different machines.",
        "out-of-range": "A number outside its range.\nThe sentence gives the range.",
        "path-leaves-folder": "A link that leads out of the register's folder.\n"
        "A register may come from a stranger; it reads nothing outside its own folder.",
        "reused-tombstone": "An id that was taken out and is used again.\n"
        "Old papers, comments and results would point at the wrong thing.",
        "several-documents": "Several YAML documents in one file.\nOne file is one document; take the line `---` out.",
        "tab-in-indentation": "A tab where blanks are needed.\nYAML indents by blanks, because tabs are of different width everywhere.",
        "too-deep": "Groups nested more deeply than any record is.\nSuch a file is broken or made to break a reader.",
        "typed-what-is-derived": "A field that riskkit works out itself.\n"
        "A status that is typed says what someone hoped; a status that is worked out says what is on file.",
        "unknown-alias": "An alias without an anchor.\nIt stands for nothing.",
        "unknown-field": "A field that this kind of record does not have.\n"
        "A misspelt field would be ignored in silence, and with it what was meant.",
        "unknown-policy": "A policy name that is not shipped.\nThe sentence lists those that are.",
        "unknown-reference": "An id that leads nowhere, or to a record of the wrong kind.\n"
        "A chain with a missing link protects nobody.",
        "unknown-section": "A section that a register does not have.\nIts records would be ignored in silence.",
        "unknown-word": "A word that is not on the list of choices.\nThe sentence gives the list.",
        "wrong-type": "A value of the wrong sort.\nThe sentence says what was expected.",
        "yaml-syntax": "Text that is not YAML.\nThe sentence says where reading stopped and what usually helps.",
        "yaml-tag": "A YAML tag.\nTags can make a reader run code; a register is plain data.",
    }
)
