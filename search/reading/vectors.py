"""Meaning vectors: a text becomes the mean of its tokens' static vectors.

The vectors and the tokenizer are read straight from the folder of the installed package `wordllama` (extra
`[meaning]`); nothing is imported from it and nothing is ever fetched.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from search.reading.word_lists import folder_of

_TOKENIZER_FILE = "tokenizers/l2_supercat_tokenizer_config.json"
_WEIGHTS_FILE = "weights/l2_supercat_256.safetensors"
_WEIGHTS_KEY = "embedding.weight"
_BATCH = 512  # texts tokenised at a time, so that memory stays flat on a large notebook


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """Static token vectors and the tokenizer that belongs to them."""

    token_vectors: NDArray[np.float32]
    tokenizer: Any

    @property
    def width(self) -> int:
        """Return the number of components of a vector."""
        return int(self.token_vectors.shape[1])

    def vectors(self, texts: Sequence[str]) -> NDArray[np.float32]:
        """Return one unit vector a text.

        texts: any texts, in lower or upper case (case is ignored).
        Returns: (len(texts), width) float32, rows of length 1; a text without tokens gives a row of zeros.
        """
        out = np.zeros((len(texts), self.width), dtype=np.float32)
        for start in range(0, len(texts), _BATCH):
            # Owners write "DEAD!!" and "dead" alike; the tokenizer would tell them apart.
            batch = [" ".join(text.lower().split()) for text in texts[start : start + _BATCH]]
            # One by one: threads of the tokenizer's own cost more than they save, most of all beside others.
            encoded = [self.tokenizer.encode(text, add_special_tokens=False) for text in batch]
            ids = [np.asarray(entry.ids, dtype=np.int64) for entry in encoded]
            lengths = np.array([len(row) for row in ids])
            filled = np.flatnonzero(lengths)
            if not len(filled):
                continue
            flat = np.clip(np.concatenate(ids), 0, len(self.token_vectors) - 1)
            starts = np.concatenate(([0], np.cumsum(lengths[filled])[:-1]))
            sums = np.add.reduceat(self.token_vectors[flat], starts, axis=0)
            norms = np.linalg.norm(sums, axis=1, keepdims=True)
            out[start + filled] = sums / np.where(norms > 0, norms, 1)
        return out


@cache
def load_meaning() -> Meaning | None:
    """Load the meaning vectors of the extra `[meaning]`.

    Returns: the vectors, or None when the extra is not installed or its files are not where they belong; the
    caller then answers from words alone and says so. Loaded once a process (about 0.1 s).
    """
    folder = folder_of("wordllama")
    if folder is None:
        return None
    try:
        from safetensors.numpy import load_file
        from tokenizers import Tokenizer

        weights = load_file(folder / _WEIGHTS_FILE)[_WEIGHTS_KEY]
        tokenizer = Tokenizer.from_file(str(folder / _TOKENIZER_FILE))
    except Exception:  # tokenizers and safetensors raise their own kinds on damaged or missing files
        return None
    tokenizer.no_padding()
    tokenizer.no_truncation()
    return Meaning(token_vectors=np.ascontiguousarray(weights, dtype=np.float32), tokenizer=tokenizer)
