"""Meaning vectors: a text becomes the mean of its tokens' static vectors.

Vectors and tokenizer are read from the folder of the installed package `wordllama` (extra `[meaning]`).
Nothing is imported from it, and nothing is fetched.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from itertools import chain
from typing import Any

import numpy as np
from numpy.typing import NDArray

from search.reading.word_lists import folder_of

_TOKENIZER_FILE = "tokenizers/l2_supercat_tokenizer_config.json"
_WEIGHTS_FILE = "weights/l2_supercat_256.safetensors"
_WEIGHTS_KEY = "embedding.weight"


@dataclass(frozen=True, kw_only=True)
class Meaning:
    """Static token vectors as in their file, and their tokenizer."""

    token_vectors: NDArray[np.float16]
    tokenizer: Any

    @cached_property
    def _ids_of(self) -> Callable[[str], list[int]]:
        """The tokens of one word; kept, as no token of this vocabulary crosses words."""
        return lru_cache(maxsize=20_000)(
            lambda word: self.tokenizer.encode(word, add_special_tokens=False).ids
        )

    def vectors(self, texts: Sequence[str]) -> NDArray[np.float32]:
        """Return unit vectors, (texts, width) float32; zeros for a text without tokens. Case is ignored."""
        sums = np.zeros((len(texts), self.token_vectors.shape[1]), dtype=np.float32)
        for row, text in zip(sums, texts, strict=True):
            # "DEAD!!" and "dead" mean the same, but would have different tokens.
            ids = list(chain.from_iterable(map(self._ids_of, text.lower().split())))
            self.token_vectors.take(ids, axis=0, mode="clip").sum(axis=0, dtype=np.float32, out=row)
        norms = np.linalg.norm(sums, axis=1, keepdims=True)
        sums /= np.where(norms > 0, norms, 1)
        return sums


@cache
def load_meaning() -> Meaning | None:
    """Load the meaning vectors of the extra `[meaning]`, once a process (about 0.1 s).

    Returns: None when it is not installed or its files are missing; answers then come from words alone.
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
    return Meaning(token_vectors=weights, tokenizer=tokenizer)
