"""The device a complaint is about: a known one, an unknown one, one that people call by another's name."""

import pytest

from kb.notes.family import FamilyNote
from search.reading.complaint import read_complaint

FAMILIES = tuple(
    FamilyNote(chassis_family=name, device=device, make="Halvern")
    for name, device in (
        ("HV-L2", "LED TV"),
        ("TR-R4", "AV receiver"),
        ("CV-I6", "induction hob"),
        ("BW-M7", "microwave oven"),
    )
)


@pytest.mark.parametrize(
    ("said", "device"),
    [
        pytest.param("the telly is dead", "LED TV", id="in-the-notebook's-spelling"),
        pytest.param("my kettle trips the kitchen", "kettle", id="a-device-the-shop-never-had"),
        pytest.param("the old plasma clicks", "plasma television", id="plasma-is-no-led-tv"),
        pytest.param("micro turns but the soup stays cold", "microwave oven", id="as-owners-shorten-it"),
        pytest.param("the amplifier hums", "AV receiver", id="called-by-another-name"),
        pytest.param("guitar amp with glowing bottles", "valve amplifier", id="no-receiver-by-any-name"),
        pytest.param("a line across the cooker", "induction hob", id="cooker-may-be-a-hob"),
        pytest.param("the oven trips when hot", "oven", id="oven-is-no-hob"),
        pytest.param("it buzzes like an old fridge", "", id="a-comparison-is-no-device"),
        pytest.param("their telephone is dead, our telly too", "LED TV", id="known-before-unknown"),
        pytest.param("the laptop is fine, no picture here", "", id="what-is-fine-is-not-at-fault"),
        pytest.param(
            "the picture on the telly is fine, it has no sound", "LED TV", id="only-its-picture-is-fine"
        ),
        pytest.param(
            "music from the amp is good, the telly is black, the disc box straight into the telly works",
            "AV receiver",
            id="what-is-left-out-is-at-fault",
        ),
        pytest.param("the telly is fine but has no sound", "LED TV", id="fine-but-for-what-follows"),
        pytest.param(
            "we had the telly mended last spring. It clicks, the kettle is fine",
            "LED TV",
            id="named-in-the-past",
        ),
        pytest.param(
            "she threw a toy train at the telly", "LED TV", id="the-named-set-before-some-other-thing"
        ),
        pytest.param("washin machine leaves water", "washing machine", id="in-broad-speech"),
        pytest.param("the neighbour says his kettle is slow too", "", id="what-is-the-neighbour's"),
        pytest.param("satellite box socket on telly is loose", "LED TV", id="whose-socket-it-is"),
        pytest.param(
            "what the kids play games on roars, monitor's grand",
            "game console",
            id="a-word-says-what-is-fine",
        ),
        pytest.param(
            "the one that seals the plastic jams, the shredder is fine", "laminator", id="the-one-that"
        ),
        pytest.param("it's the clippers, they drag", "shaver", id="clippers"),
        pytest.param("toaster beside the microwave smokes", "toaster", id="subject-before-what-stands-by"),
        pytest.param("won't heat my iron pan", "induction hob", id="an-iron-pan-is-no-iron"),
        pytest.param("the front ring is dead", "induction hob", id="told-by-what-it-alone-has"),
        pytest.param("the bucket stays empty", "", id="what-no-device-of-the-notebook-has"),
        pytest.param("the ring hums and the plate doesn't turn", "", id="told-of-two"),
        pytest.param("my kettle, and the ring is dead", "kettle", id="named-before-told"),
        pytest.param(
            "coffee spilt on it, we dried it with a hair dryer", "", id="what-something-was-done-with"
        ),
        pytest.param("there is a problem with my hair dryer", "hair dryer", id="what-there-is-trouble-with"),
        pytest.param("you phoned me, I hoovered behind it", "", id="a-verb-is-no-device"),
        pytest.param("knocked the kettle and now the mixer hums", "food mixer", id="what-was-knocked"),
        pytest.param(
            "since the washing machine man was here the dryer squeals", "tumble dryer", id="his-man"
        ),
        pytest.param(
            "when the doorbell goes the record player crackles", "record player", id="when-it-happens"
        ),
        pytest.param("he kept bumping the fridge, the toaster is dead", "toaster", id="what-was-bumped"),
        pytest.param("he threw the games controller at it", "", id="what-was-thrown-at-it"),
        pytest.param(
            "he threw the console's controller and the screen is black", "", id="controller-of-a-set"
        ),
        pytest.param("the console's controller does nothing", "game console", id="controller-at-fault"),
        pytest.param("it says headphones are in", "", id="what-it-believes"),
        pytest.param(
            "there is one thing my phone never does, it never thinks the headphones are out",
            "telephone",
            id="what-a-phone-believes",
        ),
        pytest.param(
            "I tried the same socket with other things and that's fine, so it's the toaster",
            "toaster",
            id="named-late",
        ),
        pytest.param(
            "my phone and my laptop were in the bag, the laptop is dead", "laptop", id="what-has-the-fault"
        ),
        pytest.param("beans exploded and now it sparks", "microwave oven", id="food-that-is-no-coffee"),
        # told by its use
        pytest.param("the thing that dries my hair smells", "hair dryer", id="thing-with-a-use"),
        pytest.param("what we boil the water in clicks off", "kettle", id="what-with-a-use"),
        pytest.param("the gadget I shave with pulls", "shaver", id="use-in-one-word"),
        pytest.param("I press my collars with it and it leaves marks", "clothes iron", id="use-alone"),
        pytest.param(
            "the thing above the cooker that sucks the steam away roars", "extractor hood", id="beside"
        ),
        pytest.param(
            "it warms the plates, the microwave is dead", "microwave oven", id="a-name-before-a-use"
        ),
        pytest.param("when I boil water in the microwave it hums", "microwave oven", id="where-it-is-done"),
        pytest.param("the drier frosts up", "dehumidifier", id="a-name-made-narrower"),
        pytest.param("the drier is cold", "tumble dryer", id="the-name-by-itself"),
        pytest.param("hum from my guitar amp", "valve amplifier", id="one-kind-of-amplifier"),
        pytest.param("hair everywhere. It dries slowly", "", id="not-in-one-sentence"),
        pytest.param("that machine for the stitches jams", "sewing machine", id="machine-of-something"),
        pytest.param(
            "the washing machine and the stitches of my wound", "washing machine", id="machine-in-a-name"
        ),
        pytest.param("the pump for the pond has packed up", "well pump", id="pump-of-something"),
        pytest.param("the box that gives us internet drops", "router", id="box-of-something"),
        pytest.param("it gurgles like a fish tank bubbles", "", id="only-compared"),
        # only in passing
        pytest.param("dark, shine your phone at it", "", id="a-tool"),
        pytest.param("somebody had headphones in it", "", id="a-thing-that-was-in-it"),
        pytest.param("no picture through it, the tv direct is ok", "", id="what-is-good"),
        pytest.param(
            "it hums when we have it on all evening in the lounge and then we boil the kettle",
            "",
            id="in-passing",
        ),
    ],
)
def test_complaint_is_about_the_device_at_fault(said: str, device: str) -> None:
    assert read_complaint(said, families=FAMILIES).device == device


def test_complaint_says_what_was_taken_for_what() -> None:
    assert read_complaint("the amplifier hums", families=FAMILIES).taken_for == {"amplifier": "AV receiver"}
    assert read_complaint("what I boil water in", families=FAMILIES).taken_for == {
        "what i boil water": "kettle"
    }
    assert read_complaint("the telly hums", families=FAMILIES).taken_for == {}
    assert read_complaint("the old plasma hums", families=FAMILIES).taken_for == {}
    assert read_complaint("my toaster hums", families=FAMILIES).taken_for == {}


@pytest.mark.parametrize(
    ("said", "device", "other"),
    [
        pytest.param("telly has no sound and the kettle leaks", "LED TV", "kettle", id="joined-by-and"),
        pytest.param("the hob is dead, my dishwasher won't drain", "induction hob", "dishwasher", id="comma"),
        pytest.param(
            "no sound from the telly and the iron smokes", "LED TV", "clothes iron", id="named-last"
        ),
        pytest.param("the telly hums when the dishwasher leaks", "LED TV", "", id="only-tells-when"),
        pytest.param("the hob is dead and the oven trips", "induction hob", "", id="may-be-one-cooker"),
        pytest.param("the telly is dead, the kettle is fine", "LED TV", "", id="the-other-is-fine"),
        pytest.param("I plugged in the kettle and the telly went off", "LED TV", "", id="one-has-no-fault"),
        pytest.param(
            f"{'so ' * 12}my toaster is dead and my kettle smokes", "toaster", "kettle", id="both-told-late"
        ),
        pytest.param("my phone is dead and the charger gets hot", "telephone", "", id="what-belongs-to-it"),
    ],
)
def test_what_is_told_of_a_second_set_does_not_count_for_the_first(
    said: str, device: str, other: str
) -> None:
    reading = read_complaint(said, families=FAMILIES)
    assert (reading.device, reading.other_set) == (device, other)
    assert not other or other not in reading.concepts


def test_flashes_of_a_second_set_are_not_the_first_ones() -> None:
    assert read_complaint("the telly is dead and the hob flashes 3 times", families=FAMILIES).blinks is None
    assert read_complaint("the telly flashes 3 times and the hob is dead", families=FAMILIES).blinks
