"""Know everyday words, so that "my wife says it smells of milk" is not bent into words of the trade.

Own selection: words that people use on the telephone and that say nothing about a fault.
"""

from __future__ import annotations

from functools import cache

from search.reading.text import stem

_WORDS = """
    able above across act actually address advice afraid afternoon afterwards against age ago agree
    agreed air alive allow almost alone already always among amongst amount anchor angry animal answer
    answered anybody anyone anything anywhere apart apparently appear april area arm arrive ask asked
    asleep attic august aunt auntie autumn awake award aware awful baby bacon bad badly bag bake baker
    balcony ball banana bank bar barely barn basement bath bathroom batty beach bean bear beat beautiful
    become bed bedroom bedtime beef beer beetroot beforehand begin behave behind believe below bench bend
    beneath beside besides best better between beyond big bike bill bird birthday biscuit biscuits bite
    bits black bless blob block blood blow blue board boat boathouse boats body boil bone book boot
    border bored born borrow borrowed boss bother bottle bottom bought bowl box boy branch brand brave
    bread break breakfast breath bride bridge bright brim bring broad brother brought brown brunch brush
    budgie build builder building bulky bunch bunk burst bus business busy butcher butter button buy
    cabin cafe cake call calm camp candle canteen captain car caravan card care careful carpet carried
    carrier carry cart cartoon cartoons case cash castle cat catch cause ceiling cellar cereal certainly
    chair chalet chance change chapel chat cheap cheapest check cheerful cheese chemist chicken child
    children chip chips chocolate choice choose christmas church cinema circle city class clean cleaner
    clear clever climb clinic clock close cloth clothes cloud club coast coat coffee coin cold collected
    colour comb comfort common company complain complete conservatory constantly continuously cook cool
    copy corner correct corridor cost cosy cottage cough count country couple course court cousin cover
    cow crane crank crash crazy cream create creature crew cricket crisps cross crossly crowd cruel cry
    cup cupboard cure curry curtain customer cut daddy daft daily damage damp dance dancing danger danish
    dark daughter dawn day deal dear dearest death debt decade december decide decided deck deep deer
    definitely deliver delivered dentist desk despite dinner dirty dish disturb doctor dog dogs door
    double doubt downstairs dozen drawer dream dress dried drink drive driver drop dropped drove dry due
    dusk dust dusted dutch duty eager early earn earth easily east easter easy eat eaten edge effort egg
    eight elderly electrician eleven else emailed empty end enemy engine english enjoy enough enter
    entire equal especially eve evening eventually everybody everyone everything everywhere exact exactly
    example excellent except excuse expect expensive explain explained extra eye face fact fair fairly
    faith fall family famous fancy far farm farmer farther fast fat father fault favour fear feared
    february feed feel fence ferry few field fifth fiftieth fight figure fill film films final find fine
    finger finish fire first fish fisher fisherman fit five fix flag flat flew flight float flood floor
    flour flower fly fog fold folk follow food foot football forbid force forecast foreign forest forever
    forget fork form forward found four fourth fox frame frankly free freight french fresh friday fridge
    friend front fruit fry full fully fun funny fur furniture further fussy future game gap garage garden
    gate gather gave general gentle gentleman gentlemen german giant gift girl given glad glass gloomy
    glove glow goat god gold goldfish golf good goodness grab gradually gran grand grandfather grandma
    grandmother grandpa grandson grass grateful great green greet grey ground group grow grumpy guard
    guess guessed guest guide gull habit hair half hall hallway hammer hamster hand handle hang happen
    happy harbour hard hardly hat hate head health heaps hear heart heat heavy height hello helpful hen
    herself hide high hill himself history hit hold hole holiday home honest honestly honey honour
    hoovered hop hope hoped horrible horse hospital hostel hot hotel hour house household housekeeper
    however huge human hundred hung hungry hunt hurry hurt husband hut ice idea idiot ill imagine
    immediately important inch include increase indeed inn inside instantly instead insurance invite
    irish iron island jacket jam january jar jetty job join joke journey judge juice july jump june junk
    keen key kick kicked kid kill kind king kiss kitchen kitten knee knife knock knot lad ladies lads
    lady laid lake lamb lamp land landlady landlord lane language large lass late lately later latest
    laugh law lawn lay lazy lead leaf lean leaned leant learn least leather leave left leg lemon length
    lent less lesson letter level library lid lie life lift lifted light lighthouse line lion lip list
    listen lit live loads loan lobby local lock lodge lodger log london lonely long look lorry lose lots
    loud louder lounge love lovely low luck luckily lucky lunch lunchtime machine mad magazine maid mail
    main mainly maker man manage manager manner march mark market married marry mass mast master match
    matter maximum meal meaning meanwhile measure meat medicine meet melt member memory mend mention menu
    mess message metal metre middle midnight mild mile milk milky mind mine minor minus minute mirror
    miss mistake mix moment monday money month monthly mood moody moon mooring morning mostly mother
    mountain mouth move moved movie mud mug mum mummy muscle museum music must myself nail name nan
    narrow nasty nature near nearby nearly neat neck need neighbour neither nephew nervous nest net never
    nevertheless new newest news newspaper next nice niece night nightly nine nobody noise none noodles
    noon normal normally north nose note nothing notice noticed november nowadays number nurse nut oak
    obvious obviously ocean october odd offer offered office officer olive onion opinion opposite orange
    order ordinary original ought ourselves outside oven owe owner pack page pain paint pair palm pan
    panic paper pardon parent paris park parrot part partly party pass past pasta path patient pause pay
    peace pear peep peg pen pence pencil penny people pepper per perfect period person pet phone phoned
    photo piano pick picnic picture pie piece pier pig pile pill pillow pilot pin pink pipe pity place
    plain plan plane plant plate play player pleasant pleased pleasure plenty plug plumber plus pocket
    poem point pointed poked police polite pool poor pop porch porridge port porter posh possible post
    posted postman pot potato pound pour power practice praise pray prefer prepare present president
    press pressed pretty prevent price pride priest print private prize problem programme programmes
    promise promised proper proud prove pub public pudding pull pulled pump punch pupil puppy pure purple
    purpose push pushed put quarter quay queen question queue quick quickly quiet quit quiz rabbit race
    rack rain rainy raise ran rang range rare rarely rat rate reach read ready real reason receipt
    receive received recent recently reception record red refused regular regularly relative relax remain
    remember remind remove rent repair repeat repeatedly reply report rescue rest restaurant result
    return rice rich ride ring rise risk river road roast rob rock rode roll roof room root rope rose
    rough roughly round route row rude rug rugby ruin rule run rush sad sadly safe sail sailed sailing
    sailor salad salt sand sandwich sat saturday sauce sausage save scene school scissors scottish scream
    sea search season seat second secret seen seldom sell send sense sentence separate september serial
    serious seriously serve service seven shade shadow shall shame shape share sharp shed sheep sheet
    shelf shell shift shine ship shirt shock shoe shook shop shore short shot shoulder shout shove show
    showed shower shut sick side sight sign silence silly silver similar simple since sing single sink
    sir sister sit six size sizzle skin skip sky sleep slept slice slide slight slightly slip slow slowly
    small smart smile snack snow snug soap sock sofa soft soil sold soldier solve somebody somewhat
    somewhere son song soon sore sorry soul soup sour south space spanish spare speak special speed spend
    spin spirit spite spoil spoke spoon sport spot spread spring square squeezed stable staff stage stain
    stair stairs stand stapler star start state station stay steal steam steel step stew stick sticky
    stiff stomach stone stood stop store storm story stove straight strange stranger straw stream street
    strength stress stretch strict string strong student study stupid subject succeed sudden suddenly
    suffer sugar suggest suit suitcase summer sun sunday sundays sunny sunrise sunset supper suppertime
    support suppose surely surface surgery surprise swap swear sweep sweet swell swept swim swimmer
    switch system table tail take taken talk tall taste tavern tax taxi tea teach teacher team tear
    teatime technician teenager telephone telephoned temper ten tenant tennis tent terrace terrible test
    text texted theatre theirs themselves therefore thick thief thin third thirsty thirteen thirty
    thousand three threw throat throw thumb thursday ticket tide tidy tie tight till tip tired title
    toast toastie toddler toe toilet tomato tomorrow tongue tonight tool tooth top total totally touch
    touched tough tour towards towel tower town toy track trade tradition traffic train transport travel
    tray treat tree trip trouble trousers truck true trust truth tuesday turn turned twelve twenty twice
    twins twist twisted two type ugly umbrella uncle understand unfortunately unhappy uniform unless
    unpack unusual upper upset upstairs urgent useful useless usual valley value van various vase
    vegetable via vicar village violin visit visitor voice wait waiter wake walk walked wall wander warm
    warn wash washed waste watch wave way weak wear weather wedding wednesday week weekend weekly weight
    weird welcome welsh west wet whatsoever wheel whether whisper whistle white whitsun whole whom whose
    wide wider wife wild win wind window wine wing winter wipe wiped wire wise wish wished woke woman
    women wonder wondered wonderful wood wooden wool word work worker world worried worry worse worst
    worth wound wrap write wrong wrote yard yawn year yearly years yellow yoghurt young younger yours
    yourself youth zero zoo
"""


@cache
def _stems() -> frozenset[str]:
    return frozenset(stem(word) for word in _WORDS.split())


def is_everyday(word: str) -> bool:
    """Return whether a word is one that everybody uses, in any of its forms."""
    return stem(word) in _stems()
