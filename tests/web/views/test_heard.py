"""How what was understood is said."""

from search.bench import Bench
from web.views.heard import complaint_runs


def test_what_is_told_of_another_set_is_not_called_past_alone(demo_bench: Bench) -> None:
    reading = demo_bench.read("the telly has no sound and the washer leaks from the door")
    assert complaint_runs(reading) == (
        ("the telly has no sound and ", ""),
        ("the washer leaks from the door", "past, or of the washing machine"),
    )
