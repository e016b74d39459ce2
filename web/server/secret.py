"""The key that signs the forms' tokens, kept beside the index so that open forms survive a restart."""

import contextlib
import secrets
from pathlib import Path

from kb.files import read_file, write_private


def lasting_key(state_dir: Path) -> str:
    """Return the notebook's signing key, made at the first call; a temporary one if it cannot be kept."""
    path, key = state_dir / "forms.key", secrets.token_hex(32)
    with contextlib.suppress(OSError):
        write_private(path, key)
        return key
    with contextlib.suppress(OSError):
        kept = read_file(path).decode("ascii", errors="replace").strip()
        return kept if len(kept) >= 32 else key
    return key
