"""The digest of a core: it covers all that has a meaning, not words, titles and places."""

from __future__ import annotations

import hashlib
import json

from interlock.core.dump import dump
from interlock.core.system import System


def digest_of(system: System) -> str:
    """SHA-256 of the dump without words and places, as hexadecimal digits."""
    text = json.dumps(dump(system, places=False), separators=(",", ":"), ensure_ascii=True)
    return hashlib.sha256(text.encode()).hexdigest()
