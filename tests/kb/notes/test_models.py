"""Finding a family by what somebody read off a label."""

import pytest

from kb.notes.family import FamilyNote
from kb.notes.models import find_family

FAMILIES = [
    FamilyNote(
        chassis_family="HV-L2", device="LED TV", make="Halvern", models=("HV-43L2", "HV-49L2", "HV-55L2*")
    ),
    FamilyNote(chassis_family="TN-S3", device="LED TV", make="Tarnbrook", models=("TS-32S3", "TS-39S3")),
    FamilyNote(
        chassis_family="TN-W2", device="washing machine", make="Tarnbrook", models=("TW-7W2", "TW-8W2")
    ),
]


@pytest.mark.parametrize(("said", "family", "exact"), [
    pytest.param("HV-43L2", "HV-L2", True, id="as-on-the-label"),
    pytest.param("hv 43 l2", "HV-L2", True, id="blanks-and-small-letters"),
    pytest.param("HV43L2", "HV-L2", True, id="no-dash"),
    pytest.param("Halvern HV-43L2", "HV-L2", True, id="with-make"),
    pytest.param("hv-l2", "HV-L2", True, id="family-name"),
    pytest.param("Tarnbrook W2", None, False, id="make-and-half-a-name"),
    pytest.param("HV-55L2KX", "HV-L2", True, id="wildcard"),
    pytest.param("HV-43L2B", "HV-L2", False, id="suffix"),
    pytest.param("HV-43L2/12", "HV-L2", False, id="suffix-behind-stroke"),
    pytest.param("HV-42L2", "HV-L2", False, id="one-wrong"),
    pytest.param("HV-34L2", "HV-L2", False, id="two-swapped"),
    pytest.param("HV-4L2", "HV-L2", False, id="one-missing"),
    pytest.param("TS-32SS3", "TN-S3", False, id="one-extra"),
    pytest.param("TS-3253", "TN-S3", False, id="five-for-s"),
    pytest.param("HV-67X9", None, False, id="too-far"),
    pytest.param("HV-L3", None, False, id="short-name-with-one-wrong"),
    pytest.param("TN", None, False, id="only-a-part"),
    pytest.param("", None, False, id="nothing"),
    pytest.param("***", None, False, id="only-wildcards"),
])  # fmt: skip
def test_family_is_found(said: str, family: str | None, exact: bool) -> None:
    match = find_family(said, FAMILIES)
    assert (match and match.family.chassis_family, match is not None and match.exact) == (family, exact)


def test_name_between_two_families_finds_neither() -> None:
    near = [
        FamilyNote(chassis_family="AA-1", device="radio", models=("QX-10A",)),
        FamilyNote(chassis_family="BB-1", device="radio", models=("QX-10B",)),
    ]
    assert find_family("QX-10C", near) is None
    found = find_family("QX-10B", near)
    assert found is not None
    assert found.family.chassis_family == "BB-1"
