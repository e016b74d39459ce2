"""What may start a fire is heard however it is said, and warned of also where it is no evidence."""

import tomllib
from pathlib import Path

import pytest

import search.reading.asides
from search.bench import Bench
from search.reading.complaint import read_complaint
from search.reading.concepts import default_finder


def test_every_danger_is_told_by_lists_that_are_read_and_has_a_caution() -> None:
    text = Path(search.reading.asides.__file__).with_name("dangers.toml").read_text(encoding="utf-8")
    dangers = tomllib.loads(text)["danger"]
    read = {"idea", "things", "owned", "things_after", "not_before", "told", "told_after", "ends", "passes"}
    # A list by any other name would be passed over in silence.
    assert set().union(*dangers) == {*read, "past_commas", "beside", "not_beside", "anywhere"}
    assert {danger["idea"] for danger in dangers} <= default_finder().hazards


@pytest.mark.parametrize(
    "text",
    [
        "the plug of the toaster gets really hot",
        "there is a brown mark by the socket it was in",
        "the lead where it goes into the back has melted a bit",
        "its adaptor is smoking",
        "scorched extension lead",
        "the wall socket has gone black",
        "the flex gets warm",
    ],
)
def test_hot_wiring_is_heard(text: str) -> None:
    assert "hot connection" in read_complaint(text).concepts


@pytest.mark.parametrize(
    "text",
    [
        "the plug is fine, the back gets hot",
        "I pulled the plug when it got hot",
        "the cable doesn't get hot",
        "new socket and the oven is hot enough",
        "warm plug",
    ],
)
def test_cool_wiring_is_not_heard(text: str) -> None:
    assert "hot connection" not in read_complaint(text).concepts


@pytest.mark.parametrize(
    "text",
    [
        "the heating pad burned her back",
        "hand got burnt on the oven door",
        "my wife got a burn on her arm from the toaster",
        "the kettle scalded me yesterday",
        "owner burned by steam from the coffee machine",
        "guest was badly scalded by the coffee machine",
        "she got a burn from the toaster on her arm",
        "last winter it burned my son's leg, now it is stone dead",
        "the washing machine gave me a shock",
    ],
)
def test_burn_or_shock_to_a_person_is_sent_to_a_doctor_before_all(demo_bench: Bench, text: str) -> None:
    first = demo_bench.answer(text).caution[0]
    assert (first.kind, first.likely) == ("burn or shock", True)
    assert "doctor" in first.says


@pytest.mark.parametrize(
    "text",
    [
        pytest.param("telly fell on my daughter", id="a-set-fell-on-her"),
        pytest.param("the fridge tipped over onto my husband", id="tipped-over-onto"),
        pytest.param("it landed on our toddler's foot", id="whose-foot"),
        pytest.param("the blade sliced her finger", id="cut"),
        pytest.param("he trapped his thumb in the door, dead since", id="trapped"),
        pytest.param("four stitches from the slicer, it hums", id="stitched"),
        pytest.param("gran tripped over the lead and broke her hip", id="broken-bone"),
        pytest.param("the telly nearly fell on the baby, no picture", id="nearly-hurt"),
        pytest.param("last year the shelf came down and just missed my son", id="nearly-hurt-in-the-past"),
    ],
)
def test_who_was_hurt_or_nearly_comes_before_all(demo_bench: Bench, text: str) -> None:
    first = demo_bench.answer(text).caution[0]
    assert (first.kind, first.likely) == ("person hurt", True)


@pytest.mark.parametrize(
    "text",
    [
        "the owner says it burnt out",
        "second hand toaster burns the toast",
        "gave me a burning smell",
        "nobody was burned",
        "my wife burned the toast in it",
        "customer burnt out the motor",
    ],
)
def test_burnt_thing_is_no_burnt_person(text: str) -> None:
    reading = read_complaint(text)
    assert "somebody burned" not in (*reading.concepts, *reading.dangers)


@pytest.mark.parametrize(
    ("text", "first"),
    [
        ("I turn the knob and there is a whiff of something, gas perhaps", "gas"),
        ("the hose to the gas bottle leaks", "gas"),
        ("since the stove is lit everybody has a headache", "carbon monoxide"),
        ("the CO alarm went off twice", "carbon monoxide"),
        ("the flame of the heater turned orange", "carbon monoxide"),
        ("the petrol mower leaks petrol", "petrol"),
        ("petrol drips from under the mower's engine", "petrol"),
        ("its flame burns lazy and yellow", "carbon monoxide"),
        ("its back is bulging", "lithium cells"),
        ("the oil in the fryer caught alight", "fire risk"),
        ("the battery inside has grown fat", "lithium cells"),
        ("my bike battery stood in the flooded cellar in a puddle", "lithium cells"),
        ("the casing bites with bare feet", "burn or shock"),
        ("a jolt each time one touches the lid", "burn or shock"),
        ("I got the shock of my life when I touched the kettle", "burn or shock"),
        ("what a shock when I touched the tap", "burn or shock"),
        ("there was a bright spark when I plugged it in", "fire risk"),
        ("the cook who lifted it off was badly scalded", "burn or shock"),
        ("it fell on his foot and burned it", "burn or shock"),
        ("the table underneath is scorched", "fire risk"),
        ("its plastic casing melted at the bottom", "fire risk"),
        ("rain came through the roof into the socket", "water and mains"),
        ("I had a shock from the thing", "burn or shock"),
        ("boiling milk went over my leg", "burn or shock"),
        ("it smells of bad eggs beside the ring", "gas"),
        ("the heater is on all night, we all wake up sick", "carbon monoxide"),
        ("ceramic hob, one zone never goes off", "unsafe hob"),
        ("front ring of my cooker stays hot with the knob at zero", "unsafe hob"),
        ("big plate of the electric cooker stays on full whatever I set", "unsafe hob"),
        ("one of the rings is on all the time, turning the knob changes nothing", "unsafe hob"),
        ("I cannot get the steam iron to switch off", "fire risk"),
        ("I can't turn the toaster off", "fire risk"),
        ("rice cooker goes on cooking and burns the rice to the pot", "fire risk"),
        ("halogen heater glows even when turned off", "fire risk"),
        ("the plug went all soft and sticks in the socket", "fire risk"),
        ("toaster's body glows red hot at one corner", "fire risk"),
        ("knob went soft and dropped off, hot as anything", "fire risk"),
        ("there is a blister in the plastic above the lamp", "fire risk"),
        ("the feet have melted into the worktop", "fire risk"),
        ("sleet came in on the amplifier", "water and mains"),
        ("the skylight leaked right above the telly", "water and mains"),
        ("the sander lay outside in the rain all night", "water and mains"),
        ("the cat weed on the receiver", "water and mains"),
        ("jam boiled over into the hob's buttons", "water and mains"),
        ("a bottle of beer fell over on the record player", "water and mains"),
        ("it gave my husband an almighty belt", "burn or shock"),
        ("a wallop went up my arm from the switch", "burn or shock"),
        ("the cleaner says it bit her", "burn or shock"),
        ("my hair stood up when I leaned on the fridge", "burn or shock"),
        ("touching both the cooker and the fridge gives a tingle", "burn or shock"),
        ("my boy got a thump off the heater", "burn or shock"),
        ("a smell like burnt feathers", "fire risk"),
        ("stinks of hot varnish", "fire risk"),
        ("lamp has a fishy whiff", "fire risk"),
        ("socket behind the fridge smells of fish", "fire risk"),
        ("rotten eggs when the heater lights", "gas"),
        ("something went bang inside the washing machine", "no second try"),
        ("there was a bang and the lights went out", "no second try"),
        ("since the gas fire is on we both have headaches", "carbon monoxide"),
        ("the laser of the engraver shines out of the side since the lid broke", "laser light"),
        ("I can see the red laser beam through a crack in the projector", "laser light"),
        ("the mains isolator of the cooker is hot", "fire risk"),
        ("shower pull cord has gone brown", "fire risk"),
        ("the plug's that hot I can't touch it", "fire risk"),
        ("lint behind the drum has gone brown", "fire risk"),
        ("the fryer won't cut out", "fire risk"),
        ("without the smoke I would not have noticed", "fire risk"),
        ("if it wasn't for the smoke I'd never have known", "fire risk"),
        ("I hold a match to the ring until it goes, it won't light by itself", "gas"),
        ("the flame goes out in the wind but the gas stays on", "gas"),
        ("the machine leaks onto the extension lead", "water and mains"),
        ("she's drying her hair on the side of the bath", "water and mains"),
        ("you can see copper where the rabbit was at the cable", "bare live wires"),
        ("I sawed the long prong off to fit the socket", "earth missing"),
        ("lamp bulb exploded, glass all over the bed", "no second try"),
        ("the oven door shattered and there's bits everywhere", "broken glass"),
        ("the big set rocks when he climbs up to it", "falling set"),
        ("bracket is coming loose and the cot is under it", "falling set"),
        ("my wife reaches in while the mincer is still running", "moving parts"),
        ("my oxygen concentrator stops at night", "people depend on it"),
        ("my arm jerks back when I reach for the tap", "burn or shock"),
        ("there is a brown ring right through the blanket", "fire risk"),
        ("she puts wet towels on the heater to dry", "fire risk"),
        ("I took the fuse out and put foil round it", "fire risk"),
        ("the pan of oil is on a ring that won't turn down", "unsafe hob"),
        ("sore heads at the weekend, fine when we go out", "carbon monoxide"),
        ("we taped over the vent of the boiler", "carbon monoxide"),
        ("I run the generator in the garage", "carbon monoxide"),
        ("the flame isn't blue any more", "carbon monoxide"),
        ("the vape was sat on and hisses", "lithium cells"),
        ("I prised the battery out with a knife", "lithium cells"),
        ("the touchpad bulges", "lithium cells"),
        ("the ceiling light is full of water", "water and mains"),
        ("the strip light smashed and there are silver beads", "mercury"),
        ("I sprayed petrol on it to clean it", "petrol"),
        ("poked a fork in to get the toast out", "mains"),
        ("our boy hangs off the telly unit", "falling set"),
        ("he can't breathe properly since the toner burst", "person hurt"),
        ("the dog yelps when he licks the bowl of it", "burn or shock"),
        ("I couldn't let go of the handle", "burn or shock"),
        ("the socket makes a frying noise", "fire risk"),
        ("the wall behind has gone black", "fire risk"),
        ("the iron was left face down and burnt a hole", "fire risk"),
        ("it hisses behind the hob when nothing is on", "gas"),
        ("the pilot went out hours ago", "gas"),
        ("we wake up with thumping heads in that room", "carbon monoxide"),
        ("soot round the flue of the stove", "carbon monoxide"),
        ("the sink overflowed onto the plug", "water and mains"),
        ("runs with the microwave door not quite shut", "microwave leakage"),
        ("the telly is balanced on a chair", "falling set"),
        ("I have it running with the cover off", "mains"),
        ("I trod on a bit of the bulb", "broken glass"),
        ("steam hit me in the face", "burn or shock"),
        ("the treadmill threw me off", "person hurt"),
        ("the blender took a chunk out of my finger", "person hurt"),
        ("his tie got caught in the shredder", "person hurt"),
        ("dad is stuck on the stairlift", "person hurt"),
    ],
)
def test_danger_is_warned_of_before_all_however_it_is_said(demo_bench: Bench, text: str, first: str) -> None:
    assert demo_bench.answer(text).caution[0].kind == first


@pytest.mark.parametrize(
    "text",
    [
        "smoke coloured glass, dead",
        "some bright spark pressed all the keys",
        "what a shock, the screen is black",
        "shocked at how loud it is",
        "smells of lavender, does not spin",
        "gas bill is high, yet the electric oven stays cold",
        "the gas cooker's clock is dark",
        "the flame icon is yellow",
        "her leg of lamb is burnt",
        "my hand mixer burnt out",
        "no smell of gas, the ring just clicks",
        "petrol mower drips oil",
        "a shocking picture, we were shocked to see it",
        "sick of the boiler's clock, it is slow",
        "a thump on the case helps a bit",
        "the power bank is flat, the picture is live",
        "TV won't turn off",
        "bedside lamp stays on",
        "the light of the oven stays on",
        "oven stays on for ten minutes and then cuts out",
        "oven won't stay on",
        "hob only stays on while I press",
        "fan of the hob stays on after cooking",
        "coffee machine keeps beeping and won't stop",
        "iron is still hot but no steam",
        "lid stays on tight, rice cooker dead",
        "cheese blistered nicely under the grill",
        "the grill glows red hot and cooks well",
        "butter goes soft in the fridge",
        "sound is distorted, the leads are fine",
        "the remote's rubber buttons are soft",
        "snow on the picture when it rains",
        "milk boils over in the microwave",
        "the cat knocked it off the shelf, a glass plate broke",
        "dehumidifier's bowl drips when I empty it",
        "water does not come through the coffee",
        "tickles the ivories",
        "the dog bit through the cable",
        "the mixer gives the bowl a kick",
        "I gave it a thump and it works again",
        "her hand held vacuum died",
        "I get a buzz from the amp",
        "belt off the pulley",
        "smells of clean linen as always",
        "fridge smells of fish",
        "it stinks like old socks",
        "the hair dryer smells of shampoo",
        "bangs when it fills",
        "it bangs in the spin",
        "the lid shuts with a bang",
        "the drum bangs against the side",
        "toast pops up too early",
        "the laser printer's lid is broken",
        "the laser pickup does not read discs",
        "the telly fell off the wall",
        "a book landed on my laptop",
        "I nearly fell off my chair laughing",
        "my blender is killing me",
        "touch screen doesn't feel my finger",
        "the hand blender cut out",
        "brush has hair caught in it",
        "the washing machine rocks when it spins",
        "screen wobbles, my daughter says",
        "bulb blew and I changed it",
        "the prong of the fork is bent",
        "iron is by the sink",
        "without smoke, without a spark it died",
        "the fireplace video won't play",
        "a smoking deal",
        "the generator is stored in the garage",
        "a bird sits on the vent of the dryer",
        "hissing sound on my phone calls",
        "my hands are in the tool box",
        "I cleaned the carburettor of the mower with petrol",
        "it got better when we went out of the room",
        "the fryer is dead while I nip out",
        "push it into the wall and the clock comes back",
        "sews another stitch than chosen",
        "the telly stand came with the wrong screws",
        "the induction hob hisses when it is off",
        "the remote's cover is off",
    ],
)
def test_harmless_words_warn_of_nothing(demo_bench: Bench, text: str) -> None:
    reading = read_complaint(text)
    told = {*reading.concepts, *reading.dangers}
    assert not [idea for idea in told if demo_bench.knowledge.vocabulary.cautions_of(idea, "symptom")]


@pytest.mark.parametrize(
    "text",
    [
        "child swallowed a button cell from the remote",
        "the remote control is empty, I think the baby has swallowed the battery",
        "our dog swallowed one of the batteries of the hearing aid",
        "button battery missing, toddler was playing with it",
        "the baby has been drooling since he had the scales and the battery's not in them",
        "one of the batteries isn't there and my granddaughter is coughing",
    ],
)
def test_swallowed_battery_comes_before_any_set(demo_bench: Bench, text: str) -> None:
    answer = demo_bench.answer(text)
    assert answer.caution[0].kind == "swallowed battery"
    assert (answer.causes, answer.plan.checks) == ((), ())
    assert "comes first" in answer.quote_condition


@pytest.mark.parametrize(
    "text",
    [
        "it eats batteries",
        "the camera swallowed the battery and will not let go of it",
        "battery life is gone, my daughter uses it all day",
        "the kids lost the battery cover",
        "the boy pressed it and the battery is dead",
        "the battery is missing",
    ],
)
def test_set_that_swallows_batteries_hurts_nobody(text: str) -> None:
    assert "somebody swallowed a battery" not in read_complaint(text).concepts


@pytest.mark.parametrize(
    ("text", "danger"),
    [
        ("two months ago flames came out of it", "smoke"),
        ("my neighbour's one caught fire", "smoke"),
        ("my brother's one smells burnt", "burnt smell"),
    ],
)
def test_danger_of_the_past_or_of_another_set_is_warned_of(demo_bench: Bench, text: str, danger: str) -> None:
    answer = demo_bench.answer(text)
    assert danger in answer.reading.dangers
    assert danger not in answer.reading.concepts
    assert answer.caution[0].kind == "fire risk"


@pytest.mark.parametrize(
    "text",
    [
        "it was my brother's dehumidifier that caught fire, ours is just noisy",
        "my neighbour's tv caught fire, mine has no sound",
        "my sister has a toaster that sparked, my toaster stays cold",
        "mum's kettle melted but ours just leaks",
    ],
)
def test_danger_of_another_set_is_none_beside_a_fault_of_ours(text: str) -> None:
    reading = read_complaint(text)
    assert not {"smoke", "sparks", "melted", "scorch marks"} & {*reading.concepts, *reading.dangers}
    assert reading.concepts


@pytest.mark.parametrize(
    ("text", "why"),
    [
        ("wall socket smells of burning", "plug, lead and socket come first"),
        ("the fuse board sparks", "plug, lead and socket come first"),
        ("there is water in the extension lead's plug, it hums", ""),
        ("battery swelled like a pillow", "the danger of lithium cells comes first"),
        ("headache from the fumes in the room, smells", "the danger of carbon monoxide comes first"),
        ("plug on the dishwasher went brown and crackles", "plug, lead and socket come first"),
        (
            "water got in the socket behind the washing machine and now it hums",
            "plug, lead and socket come first",
        ),
    ],
)
def test_no_price_and_no_other_set_where_a_plug_or_a_battery_is_at_fault(
    demo_bench: Bench, text: str, why: str
) -> None:
    answer = demo_bench.answer(text)
    assert answer.bench_time is None
    assert answer.quote_condition.startswith("No price")
    assert why in answer.quote_condition
    assert not any(cause.other_device for cause in answer.causes[:1])
    assert answer.reading.device or not (answer.causes or answer.tell_owner or answer.before_power)


@pytest.mark.parametrize(
    ("text", "device"),
    [
        ("socket behind the tumble dryer got wet, sparks", "tumble dryer"),
        ("drone battery went fat like a cushion and hisses", "model aircraft"),
    ],
)
def test_set_beside_a_socket_stays_the_set(demo_bench: Bench, text: str, device: str) -> None:
    answer = demo_bench.answer(text)
    assert (answer.unmet_device, answer.causes) == (device, ())


@pytest.mark.parametrize("text", ["it doesn't smell of burning any more", "dead, but it no longer smokes"])
def test_danger_that_has_ended_is_warned_of(demo_bench: Bench, text: str) -> None:
    assert "fire risk" in [each.kind for each in demo_bench.answer(text).caution if each.likely]


def test_gas_that_one_of_two_no_longer_smells_comes_first(demo_bench: Bench) -> None:
    answer = demo_bench.answer("can't smell gas any more but my wife still can")
    assert answer.caution[0].kind == "gas"


@pytest.mark.parametrize(
    ("text", "leaks"),
    [
        ("microwave goes on when I open the door", True),
        ("microwave runs with the door open and the light is on", True),
        ("the light of the microwave goes on when I open the door", False),
        ("fridge light comes on when I open the door", False),
    ],
)
def test_microwave_that_goes_on_with_its_door_open_leaks(demo_bench: Bench, text: str, leaks: bool) -> None:
    kinds = [each.kind for each in demo_bench.answer(text).caution]
    assert ("microwave leakage" in kinds) is leaks


def test_pilot_light_that_makes_people_sick_gives_off_carbon_monoxide(demo_bench: Bench) -> None:
    answer = demo_bench.answer("pilot light keeps going out and I feel sick")
    assert answer.caution[0].kind == "carbon monoxide"


@pytest.mark.parametrize(
    ("text", "may_burn"),
    [
        pytest.param("our washer won't drain and smells", False, id="of-drains"),
        pytest.param("the fridge smells funny", False, id="of-food"),
        pytest.param("our washer smells of burning", True, id="of-burning"),
        pytest.param("the telly crackles and smells", True, id="of-a-set-without-water"),
        pytest.param("our washer won't drain and the telly smells", True, id="of-another-set-without-water"),
        pytest.param("pop and a smell, then dead", True, id="of-an-unknown-set"),
    ],
)
def test_smell_is_a_danger_where_neither_water_nor_food_is(
    demo_bench: Bench, text: str, may_burn: bool
) -> None:
    assert ("fire risk" in [each.kind for each in demo_bench.answer(text).caution]) == may_burn


def test_danger_that_is_new_today_is_told(demo_bench: Bench) -> None:
    assert "smoke" in demo_bench.answer("never any smoke until today").reading.concepts


@pytest.mark.parametrize(
    "text", ["black picture, no smoke and no burnt smell", "the telly does not work any more, no smoke"]
)
def test_denied_danger_is_not_warned_of(demo_bench: Bench, text: str) -> None:
    answer = demo_bench.answer(text)
    assert not answer.reading.dangers
    assert "fire risk" not in [each.kind for each in answer.caution]


@pytest.mark.parametrize("gap", [" ", "  ", "\t"])
def test_comparison_runs_on_over_wide_spaces(gap: str) -> None:
    reading = read_complaint(f"rattles like{gap}marbles{gap}in{gap}a{gap}mixer")
    assert "food mixer" not in reading.concepts


def test_comparison_ends_before_what_fails() -> None:
    assert "no heat" in read_complaint("it roars like a jet plane no heat at all").concepts


@pytest.mark.parametrize(
    ("text", "idea"),
    [
        ("the flex of the lamp is worn through to the copper", "bare wires"),
        ("bare wires stick out where the cord goes in", "bare wires"),
        ("dog chewed the lead of the lamp", "bare wires"),
        ("kettle lead is bare", "bare wires"),
        ("the cable is split and you can see copper", "bare wires"),
        ("cord of the drill has exposed wires", "bare wires"),
        ("lawn mower cut through its own lead", "bare wires"),
        ("the power cord of the fan is damaged", "bare wires"),
        ("insulation on the flex has perished", "bare wires"),
        ("the boy turned the tap of the stove and gas came out, no flame", "smell of gas"),
    ],
)
def test_bare_copper_and_gas_that_came_out_are_dangers(text: str, idea: str) -> None:
    assert idea in read_complaint(text).concepts


@pytest.mark.parametrize(
    "text",
    [
        "the copper pan is not found",
        "no wires are needed for this speaker",
        "the dog chewed the headphone cable",
        "the lead is not frayed",
        "plugged in the lead and it cut out",
        "lead acid battery is bare",
        "wire basket of the freezer is exposed metal",
        "hdmi lead was exposed to the sun",
    ],
)
def test_copper_and_wires_alone_are_none(text: str) -> None:
    assert not {"bare wires", "smell of gas"} & set(read_complaint(text).concepts)


@pytest.mark.parametrize(
    ("text", "device"),
    [
        pytest.param("my drill battery is leaking", "cordless tool", id="named-by-its-battery"),
        pytest.param("phone battery leaks", "telephone", id="battery-of-a-set"),
        pytest.param("battery of my phone leaks", "telephone", id="battery-first"),
    ],
)
def test_battery_that_leaks_leaks_no_water(text: str, device: str) -> None:
    reading = read_complaint(text)
    assert "leaking battery" in reading.concepts
    assert "leaks water" not in reading.concepts
    assert reading.device == device
