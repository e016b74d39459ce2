"""The key that signs the forms' tokens, kept beside the index so that open forms survive a restart."""

from __future__ import annotations

import os
import secrets
from pathlib import Path

from kb.files import read_file


def lasting_key(state_dir: Path) -> str:
    """Return the notebook's signing key, made at the first call; a temporary one if it cannot be kept."""
    path = state_dir / "forms.key"
    try:
        state_dir.mkdir(parents=True, exist_ok=True)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        try:
            kept = read_file(path).decode("ascii", errors="replace").strip()
        except OSError:
            kept = ""
        return kept if len(kept) >= 32 else secrets.token_hex(32)
    except OSError:
        return secrets.token_hex(32)
    key = secrets.token_hex(32)
    with os.fdopen(handle, "w", encoding="ascii") as file:
        file.write(key + "\n")
    return key
