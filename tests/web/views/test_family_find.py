"""Finding a family by its model, its make, its device, or a name with a slip in it."""

from unittest.mock import Mock

import pytest

from kb.notes.family import FamilyNote
from search.families.family_figures import FamilySummary, Share
from web.views.family_view import overview

NOTES = {
    note.chassis_family: note
    for note in (
        FamilyNote(
            chassis_family="HV-L2", device="LED TV", make="Halvern", models=("HV-43L2", "HV-49L2", "HV-55L2*")
        ),
        FamilyNote(chassis_family="OS-K5", device="LED TV", make="Ostrel", models=("OK-40K5", "OK-50K5")),
        FamilyNote(
            chassis_family="TN-W2", device="washing machine", make="Tarnbrook", models=("TW-7W2", "TW-8W2")
        ),
    )
}


def summary(name: str, make: str, device: str, models: tuple[str, ...] = ()) -> FamilySummary:
    none = Share(count=0, total=0)
    return FamilySummary(
        chassis_family=name, make=make, device=device, models=models, success=none, fix_time=None
    )


FAMILIES = [
    *(summary(n.chassis_family, n.make, n.device, n.models) for n in NOTES.values()),
    summary("Zz 9/1", "", "dehumidifier"),  # seen in cases only
]


@pytest.mark.parametrize(
    ("said", "found"),
    [
        pytest.param("", ["HV-L2", "OS-K5", "TN-W2", "Zz 9/1"], id="nothing-finds-all"),
        pytest.param("HV-55L2S", ["HV-L2"], id="model-with-suffix"),
        pytest.param("hv43", ["HV-L2"], id="model-not-typed-to-its-end"),
        pytest.param("Halvern HV 43 L2", ["HV-L2"], id="make-and-spaced-model"),
        pytest.param("halvren", ["HV-L2"], id="swapped-letters"),
        pytest.param("tv", ["HV-L2", "OS-K5"], id="device"),
        pytest.param("ostrel tv", ["OS-K5"], id="every-word-counts"),
        pytest.param("washng machin", ["TN-W2"], id="two-slips"),
        pytest.param("dehumidifer", ["Zz 9/1"], id="family-without-note"),
        pytest.param("zz9", ["Zz 9/1"], id="name-without-its-space"),
        pytest.param("toaster", [], id="unknown"),
        pytest.param("?!", [], id="nothing-to-go-by"),
    ],
)
def test_overview_forgives_slips_and_knows_models(
    said: str, found: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("web.views.family_view.families_overview", lambda table, notes: FAMILIES)
    bench = Mock(**{"notebook.families.return_value": NOTES})
    assert [family.chassis_family for family in overview(bench, said)] == found
