"""The words of the trade, both sides of the ocean, as tables for `wreckwright.record.words`.

Basis of all of it: common practice (how people write to one another about machines). Names and synonyms of the trade
data are used as well; here is what a list of names cannot hold: other spellings, words for families of parts, and
what a word for damage means.
"""

from __future__ import annotations

from collections.abc import Mapping

SPELLINGS: tuple[tuple[str, str], ...] = (
    ("by wire", "bywire"),
    ("turn signal", "indicator"),
    ("turn indicator", "indicator"),
    ("direction indicator", "indicator"),
    ("blinker", "indicator"),
    ("winker", "indicator"),
    ("flasher", "indicator"),
    ("turnsignal", "indicator"),
    ("mud guard", "mudguard"),
    ("fender", "mudguard"),
    ("tire", "tyre"),
    ("disk", "disc"),
    ("calliper", "caliper"),
    ("muffler", "silencer"),
    ("end can", "silencer"),
    ("exhaust can", "silencer"),
    ("tail pipe", "silencer"),
    ("windshield", "screen"),
    ("wind shield", "screen"),
    ("windscreen", "screen"),
    ("fly screen", "screen"),
    ("flyscreen", "screen"),
    ("triple clamp", "clamp"),
    ("triple tree", "clamp"),
    ("triple", "clamp"),
    ("yoke", "clamp"),
    ("upper clamp", "top clamp"),
    ("lower clamp", "bottom clamp"),
    ("petrol tank", "tank"),
    ("gas tank", "tank"),
    ("fuel tank", "tank"),
    ("gasoline tank", "tank"),
    ("kick stand", "side stand"),
    ("kickstand", "side stand"),
    ("sidestand", "side stand"),
    ("prop stand", "side stand"),
    ("harness", "loom"),
    ("wire loom", "wiring loom"),
    ("head light", "headlamp"),
    ("headlight", "headlamp"),
    ("head lamp", "headlamp"),
    ("front light", "headlamp"),
    ("front lamp", "headlamp"),
    ("tail light", "tail lamp"),
    ("taillight", "tail lamp"),
    ("taillamp", "tail lamp"),
    ("rear light", "tail lamp"),
    ("rear lamp", "tail lamp"),
    ("brake light", "tail lamp"),
    ("stop light", "tail lamp"),
    ("number plate", "plate"),
    ("license plate", "plate"),
    ("licence plate", "plate"),
    ("registration plate", "plate"),
    ("tag", "plate"),
    ("tail tidy", "plate bracket"),
    ("foot rest", "peg"),
    ("footrest", "peg"),
    ("foot peg", "peg"),
    ("footpeg", "peg"),
    ("passenger", "pillion"),
    ("peg hanger", "hanger"),
    ("rear set", "hanger"),
    ("rearset", "hanger"),
    ("peg bracket", "hanger"),
    ("speedometer", "instrument"),
    ("speedo", "instrument"),
    ("clock", "instrument"),
    ("gauge", "instrument"),
    ("dashboard", "instrument"),
    ("dash", "instrument"),
    ("tft", "instrument"),
    ("instrument cluster", "instrument"),
    ("instrument panel", "instrument"),
    ("gear lever", "shift lever"),
    ("gear shifter", "shift lever"),
    ("gear shift lever", "shift lever"),
    ("gear pedal", "shift lever"),
    ("shifter", "shift lever"),
    ("shift pedal", "shift lever"),
    ("gear shaft", "shift shaft"),
    ("sump", "oil pan"),
    ("rim", "wheel"),
    ("rotor", "disc"),
    ("alternator disc", "alternator"),
    ("shock absorber", "shock"),
    ("monoshock", "shock"),
    ("mono shock", "shock"),
    ("rear damper", "shock"),
    ("lock stop", "steering stop"),
    ("steering head stop", "steering stop"),
    ("fork stop", "steering stop"),
    ("swing arm", "swingarm"),
    ("swinging arm", "swingarm"),
    ("sub frame", "subframe"),
    ("waterpump", "water pump"),
    ("coolant pump", "water pump"),
    ("water pump housing", "water pump cover"),
    ("engine case", "engine cover"),
    ("case cover", "engine cover"),
    ("side case", "engine cover"),
    ("carburettor", "throttle body"),
    ("carburetor", "throttle body"),
    ("carb", "throttle body"),
    ("ecu", "control unit"),
    ("cdi", "control unit"),
    ("engine computer", "control unit"),
    ("header pipe", "header"),
    ("down pipe", "header"),
    ("downpipe", "header"),
    ("manifold", "header"),
    ("handle bar", "handlebar"),
    ("clip on", "handlebar"),
    ("clipon", "handlebar"),
    ("bar end weight", "bar end"),
    ("barend", "bar end"),
    ("air filter", "airbox"),
    ("air box", "airbox"),
    ("air cleaner", "airbox"),
    ("wing mirror", "mirror"),
    ("rear view mirror", "mirror"),
    ("rearview mirror", "mirror"),
    ("anti lock", "abs"),
    ("luggage carrier", "rack"),
    ("carrier", "rack"),
    ("luggage rack", "rack"),
    ("rear rack", "rack"),
    ("reg rec", "regulator"),
    ("rectifier", "regulator"),
    ("coolant tank", "coolant bottle"),
    ("expansion tank", "coolant bottle"),
    ("overflow bottle", "coolant bottle"),
    ("header tank", "coolant bottle"),
    ("coolant reservoir", "coolant bottle"),
    ("head stock", "headstock"),
    ("steering head bearing", "head bearing"),
    ("headstock bearing", "head bearing"),
    ("headset bearing", "head bearing"),
    ("headstock", "frame head"),
    ("steering head", "frame head"),
    ("frame slider", "crash protector"),
    ("stanchion", "fork tube"),
    ("fork leg", "fork tube"),
    ("inner tube", "fork tube"),
    ("fork slider", "fork bottom"),
    ("fork lower", "fork bottom"),
    ("lower leg", "fork bottom"),
    ("nearside", "left"),
    ("near side", "left"),
    ("offside", "right"),
    ("off side", "right"),
    ("lh", "left"),
    ("rh", "right"),
    ("lefthand", "left"),
    ("righthand", "right"),
    ("left hand", "left"),
    ("right hand", "right"),
)
"""Words -> the words used here instead, in both the text and the names. Longer ones are tried first."""

FAMILIES: Mapping[str, tuple[str, ...]] = {
    "indicator": ("indicator_fl", "indicator_fr", "indicator_rl", "indicator_rr"),
    "lever": ("lever_clutch", "lever_brake_front"),
    "switch": ("switch_cluster_l", "switch_cluster_r"),
    "master cylinder": ("master_cyl_front", "rear_master_cyl"),
    "mudguard": ("front_mudguard", "plate_bracket"),
    "clamp": ("top_clamp", "bottom_clamp_stem"),
    "frame": ("frame_head", "frame_spars"),
    "wheel": ("front_wheel", "rear_wheel"),
    "spoke": ("front_wheel", "rear_wheel"),
    "disc": ("front_discs", "rear_disc"),
    "brake disc": ("front_discs", "rear_disc"),
    "axle": ("front_axle", "rear_axle"),
    "spindle": ("front_axle", "rear_axle"),
    "caliper": ("front_calipers", "rear_caliper"),
    "brake": ("front_calipers", "rear_caliper"),
    "wheel speed": ("wheel_speed_sensors",),
    "wheel sensor": ("wheel_speed_sensors",),
    "engine": ("bottom_end", "top_end", "crankcase"),
    "lock": ("ignition_lock", "lock_set"),
}
"""Everyday words for several parts -> the components they may mean, instead of what any one name says. Names and
synonyms of the trade data say the rest; ids that the trade data do not have are passed over."""

LOOKS, WORKS_BADLY = 1, 2

DAMAGE: Mapping[str, tuple[str, int]] = {
    **{
        word: (to, LOOKS)
        for to, words in {
            "scratched": "scratched scratch scuffed scuff scraped scrape grazed graze rash rashed marked mark",
            "chipped": "chipped chip gouged gouge",
            "dented": "dented dent dinged ding dimpled",
            "faded": "faded dull peeling peeled yellowed sunburnt discoloured discolored",
            "dirty": "dirty filthy muddy",
        }.items()
        for word in words.split()
    },
    **{
        word: (to, WORKS_BADLY)
        for to, words in {
            "bent": "bent bend twisted twist buckled buckle warped warp crooked kinked kink crushed squashed deformed",
            "cracked": "cracked crack split fractured hairline",
            "broken": "broken broke smashed snapped shattered sheared busted bust stripped",
            "torn": "torn tear ripped frayed chafed cut severed pinched",
            "seized": "seized stuck frozen binding jammed locked dragging sticky sticking stick",
            "rusted": "rusted rust rusty corroded corrosion pitted furred",
            "leaking": "leaking leak leaks weeping weep dripping seeping blown",
            "holed": "holed hole punctured puncture pierced",
            "loose": "loose hanging wobbly rattling play",
            "worn": "worn ground perished bald stretched tired cupped notchy rough noisy stiff brittle",
            "dead": "dead flat shorted inoperative unresponsive kaput",
            "burnt": "burnt burned melted scorched singed",
            "dirty inside": "flooded contaminated sludge waterlogged clogged blocked stale gummed milky",
            "damaged": "damaged damage bad faulty defective wrecked ruined suspect wrong",
        }.items()
        for word in words.split()
    },
}
"""Word for damage -> (word used here, severity of it on a part that is not needed for riding)."""

GONE = frozenset("gone missing lost absent stolen".split())
FINE = frozenset("fine ok okay good straight true sound undamaged intact perfect unmarked sharp clean".split())
NOT = frozenset("no not without isnt doesnt wont dont cant cannot never".split())
WORKS = frozenset(
    "work works working turn turns turning open opens move moves start starts charge charges light lights".split()
)
SURFACE_ONLY = frozenset({"scratched", "faded", "dirty"})
"""Words that stay matters of looks even on a part that a machine must not be ridden without."""

TURNS_INTO: Mapping[tuple[str, str], str] = {
    ("fuel_tank_shell", "rusted"): "fuel_tank_inside",
    ("fuel_tank_shell", "dirty inside"): "fuel_tank_inside",
    ("fuel_tank_shell", "leaking"): "fuel_tank_leak",
    ("fuel_tank_shell", "holed"): "fuel_tank_leak",
    ("fuel_tank_shell", "cracked"): "fuel_tank_leak",
    ("fork_tube_l", "leaking"): "fork_seals",
    ("fork_tube_r", "leaking"): "fork_seals",
}
"""(component by its everyday name, damage) -> the component that this damage is really in."""

FILLERS = frozenset(
    "a an the is are was were be been in on at of to it its with very bit slightly badly little some has have had "
    "looks look seems "
    "there here this that all off up down out one both pair through away again probably maybe after".split()
)
"""Words that say nothing about which part is meant."""
