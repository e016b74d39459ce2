"""A small labelled list of invented complaints, for regression tests alone."""

from dataclasses import replace

import numpy as np

from search.causes.past_cases import PastCases
from search.evaluation.labelled import Row

COMPLAINTS: dict[str, tuple[str, ...]] = {
    "backlight strip open": (
        "sound but no picture", "screen went dark, telly still talks", "black screen, can hear it fine",
        "picture very dark, torch shows it", "no light behind the picture", "dark screen but remote works",
        "screen is black with sound", "goes black soon, voice stays", "can hear the news not see it",
        "dim then nothing, audio ok",
    ),
    "standby capacitor worn": (
        "takes ages to come on", "clicks several times before it starts", "needs half an hour to wake up",
        "slow to start in the cold", "will not start when cold", "ticking and slow start",
        "starts only after many tries", "clicks a lot before it wakes", "will not start in the morning",
        "needs warming before it comes on",
    ),
    "drain pump blocked": (
        "water stays in the drum", "will not empty", "does not drain, hums", "stops full of water",
        "water will not go out", "drum full of water at the end", "pump hums but nothing drains",
        "not emptying", "clothes sit in water", "leaves water inside",
    ),
    "door switch worn": (
        "dead when the door is shut", "light stays on with the door closed", "stops when the door is touched",
        "runs only if you push the door", "door has to be slammed", "will not go unless door is lifted",
        "cuts out if you lean on the door", "door closed but does not start", "door must be held shut",
        "wiggle the door and it runs",
    ),
    "mains fuse blown": (
        "completely dead after thunder", "dead, no lights at all", "bang and then nothing", "no life at all",
        "went off with a pop", "totally dead", "loud crack, smell, dead", "nothing happens, no light",
        "pop and dead", "dead since the storm",
    ),
    "fan full of dust": (
        "very noisy and hot", "gets hot and shuts down", "whines from the back", "overheats in an hour",
        "loud fan and heat", "switches off when hot", "hot air smell and roaring", "fan screams",
        "too hot to touch, stops", "noise like a hair dryer",
    ),
}  # fmt: skip


def small_list(times: int = 1) -> list[Row]:
    """Return the list; times: how often every complaint stands in it, a little different each time."""
    tails = ("", " again", " the owner says", " since monday")
    return [
        {"complaint": text + tails[turn], "cause": cause}
        for turn in range(times)
        for cause, complaints in COMPLAINTS.items()
        for text in complaints
    ]


def past_cases(causes: list[int], **columns: object) -> PastCases:
    """Return past cases with some causes; nothing else is said of them unless columns say so."""
    nothing = np.full(len(causes), -1, np.int64)
    plain = PastCases(
        cause=np.array(causes, np.int64),
        n_causes=max(causes, default=-1) + 1,
        family=nothing,
        make=nothing,
        device=nothing,
        blink_code=nothing,
        blink_patterns=(),
        evidence=np.ones(len(causes)),
    )
    return replace(plain, **columns)  # type: ignore[arg-type]
