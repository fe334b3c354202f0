"""What comes of a piece of long work: in sentences, papers, findings, and where it leads on to."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from labeler.findings import Finding

Asked = Mapping[str, Any]


@dataclass(frozen=True, slots=True)
class Outcome:
    """What came of a piece of work.

    Attributes:
        said: in sentences.
        files: what was made: what it is, and the file.
        findings: what there is to say of it.
        leads: where it leads on to: in words, and the path of a page.
        facts: what a page of its own shows of it, as plain values.
    """

    said: tuple[str, ...]
    files: tuple[tuple[str, Path], ...] = ()
    findings: tuple[Finding, ...] = ()
    leads: tuple[tuple[str, str], ...] = ()
    facts: Mapping[str, Any] = field(default_factory=dict)


def plain(text: str) -> str:
    """Return a text as part of a file's name: letters and figures that every disk takes.

    Two texts never give one name: what is left of a text that has others ends with six digits of
    its SHA-256.
    """
    left = re.sub(r"[^A-Za-z0-9.]+", "-", text).strip("-.")[:40]
    if left == text:
        return left
    return f"{left or 'paper'}-{hashlib.sha256(text.encode()).hexdigest()[:6]}"


def is_count(text: str) -> bool:
    """Tell whether this is how many of something one may have."""
    return text.isascii() and text.isdecimal() and len(text) < 7
