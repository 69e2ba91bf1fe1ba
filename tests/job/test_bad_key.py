"""One fault for each wrong key or value: where it is, what was found, what would be right."""

import pytest

from nestplan.faults import WRONG_INPUT, Faults
from nestplan.job import read_job
from tests.job.sample import JOB, SHOP, changed, faults_in, only_fault, write

DECAL_1, DECAL_2 = (
    'regatta.toml, [[decal]] 1 "berth plate"',
    'regatta.toml, [[decal]] 2 "club burgee"',
)
CUTTER, MODE = (
    'shop.toml, [[machine]] 2 "cutter"',
    'shop.toml, [[machine]] 1 "printer", mode 1 "six passes"',
)
LENGTH, WHOLE = "write a number from 1 to 50000", "write a whole number from 1 to 100000"
TURNS = 'write "none", "half", "quarter" or "free"'
FORMS = (
    'write text such as "layer:outline", "colour:#e6007e", "spot:Contour", "page", "trim", '
    '"outline", "offset:2.0", "rectangle:3", "rounded:3,5", "circle:3" or "hull:3"'
)

IN_JOB = {
    "a negative size": (
        "width_mm = 90",
        "width_mm = -90",
        DECAL_1,
        "width_mm is -90, below 1",
        LENGTH,
    ),
    "no size": ("width_mm = 90", "width_mm = 0.0", DECAL_1, "width_mm is 0.0, below 1", LENGTH),
    "a size beyond any roll": (
        "width_mm = 90",
        "width_mm = 5e9",
        DECAL_1,
        "width_mm is 5e+9, above 50000",
        LENGTH,
    ),
    "a size beyond floats": (
        "width_mm = 90",
        "width_mm = " + 400 * "9",
        DECAL_1,
        "width_mm is a number of more than 60 digits, above 50000",
        LENGTH,
    ),
    "a size that floats take for infinite": (
        "width_mm = 90",
        "width_mm = -1e999",
        DECAL_1,
        "width_mm is -1e+999, below 1",
        LENGTH,
    ),
    "an infinite size": (
        "width_mm = 90",
        "width_mm = inf",
        DECAL_1,
        "width_mm is inf, not a finite number",
        LENGTH,
    ),
    "a size that is not a number": (
        "width_mm = 90",
        "width_mm = nan",
        DECAL_1,
        "width_mm is nan, not a finite number",
        LENGTH,
    ),
    "a size in quotes": (
        "width_mm = 90",
        'width_mm = "90"',
        DECAL_1,
        'width_mm is "90", not a number',
        f"{LENGTH}, without quotes",
    ),
    "a size that is true": (
        "width_mm = 90",
        "width_mm = true",
        DECAL_1,
        "width_mm is true, not a number",
        LENGTH,
    ),
    "a size that is a date": (
        "width_mm = 90",
        "width_mm = 2024-05-09",
        DECAL_1,
        "width_mm is 2024-05-09, not a number",
        LENGTH,
    ),
    "a quantity with a point": (
        "quantity = 96",
        "quantity = 96.0",
        DECAL_1,
        "quantity is 96.0, not a whole number",
        WHOLE,
    ),
    "half a copy": ("= 96", "= 2.5", DECAL_1, "quantity is 2.5, not a whole number", WHOLE),
    "no copies": ("= 96", "= 0", DECAL_1, "quantity is 0, below 1", WHOLE),
    "fewer than no copies": ("= 96", "= -4", DECAL_1, "quantity is -4, below 1", WHOLE),
    "too many copies": ("= 96", "= 100001", DECAL_1, "quantity is 100001, above 100000", WHOLE),
    "an absurd quantity": (
        "= 96",
        "= 0x" + 1000 * "f",
        DECAL_1,
        "quantity is a number of more than 60 digits, above 100000",
        WHOLE,
    ),
    "a quantity that is true": (
        "= 96",
        "= true",
        DECAL_1,
        "quantity is true, not a whole number",
        WHOLE,
    ),
    "a quantity in words": (
        "= 96",
        '= "many"',
        DECAL_1,
        'quantity is "many", not a whole number',
        f"{WHOLE}, without quotes",
    ),
    "quantities in a list": (
        "= 96",
        "= [96, 4]",
        DECAL_1,
        "quantity is [96, 4], not a whole number",
        WHOLE,
    ),
    "a turn misspelt": (
        '"free"',
        '"quater"',
        DECAL_2,
        'rotate is "quater", which is not known',
        f'{TURNS}; the nearest is "quarter"',
    ),
    "a turn in degrees": ('"free"', "90", DECAL_2, "rotate is 90, which is not known", TURNS),
    "a cut that does not exist": (
        '"through"',
        '"Trough"',
        DECAL_2,
        'cut is "Trough", which is not known',
        'write "kiss" or "through"; the nearest is "through"',
    ),
    "a contour in another language": (
        "offset:2.0",
        "color:#e6007e",
        DECAL_2,
        'contour is "color:#e6007e", not one of the eleven forms',
        f"{FORMS}; the nearest is colour",
    ),
    "a colour of three digits": (
        "offset:2.0",
        "colour:#f0c",
        DECAL_2,
        'contour is "colour:#f0c", colour takes # and six hexadecimal digits: colour:#e6007e',
        f"{FORMS}; the nearest is colour",
    ),
    "an offset without a number": (
        "offset:2.0",
        "offset:wide",
        DECAL_2,
        'contour is "offset:wide", offset takes a number of mm from -999 to 999: offset:2.0',
        f"{FORMS}; the nearest is offset",
    ),
    "an offset in Arabic digits": (
        "offset:2.0",
        "offset:٢",
        DECAL_2,
        'contour is "offset:٢", offset takes a number of mm from -999 to 999: offset:2.0',
        f"{FORMS}; the nearest is offset",
    ),
    "a layer without a name": (
        "offset:2.0",
        "layer: ",
        DECAL_2,
        'contour is "layer: ", layer takes the name of a layer, an id or a label: layer:outline',
        f"{FORMS}; the nearest is layer",
    ),
    "a bleed below nothing": (
        "bleed_mm = 1.5",
        "bleed_mm = -0.1",
        DECAL_2,
        "bleed_mm is -0.1, below 0",
        "write a number from 0 to 1000",
    ),
    "a name that is empty": (
        '"berth plate"',
        '""',
        "regatta.toml, [[decal]] 1",
        'name is "", empty',
        "write text in quotes, at most 80 characters",
    ),
    "a name of blanks": (
        '"berth plate"',
        '"  "',
        'regatta.toml, [[decal]] 1 "  "',
        'name is "  ", blank',
        "write text in quotes, at most 80 characters",
    ),
    "a name on two lines": (
        '"berth plate"',
        r'"berth\nplate"',
        r'regatta.toml, [[decal]] 1 "berth\nplate"',
        r'name is "berth\nplate", with signs that do not print',
        "write text in quotes, at most 80 characters",
    ),
    "a name with a space behind": (
        '"berth plate"',
        '"berth plate "',
        'regatta.toml, [[decal]] 1 "berth plate "',
        'name is "berth plate ", with a space at its begin or end',
        "write text in quotes, at most 80 characters",
    ),
    "a name that is a number": (
        '"berth plate"',
        "12",
        "regatta.toml, [[decal]] 1",
        "name is 12, not text",
        "write text in quotes, at most 80 characters",
    ),
    "a key misspelt": (
        "bleed_mm",
        "bleed",
        DECAL_2,
        "[[decal]] has no key bleed",
        "write bleed_mm (print beyond the contour)",
    ),
    "a needed key misspelt": (
        "quantity = 96",
        "quantty = 96",
        DECAL_1,
        "[[decal]] has no key quantty",
        "write quantity (copies to deliver; may be left out where there are rows)",
    ),
    "a key in capitals": (
        "rotate",
        "ROTATE",
        DECAL_2,
        "[[decal]] has no key ROTATE",
        "write rotate (turns allowed on the film: none, half, quarter, free (any angle))",
    ),
    "a key of the whole job in a decal": (
        "bleed_mm = 1.5",
        "gutter_mm = 1.5",
        DECAL_2,
        "[[decal]] has no key gutter_mm",
        "move it to the top of the file, above the first table",
    ),
    "a key of a decal above the first": (
        "gutter_mm = 4.0",
        "bleed_mm = 4.0",
        "regatta.toml",
        "a job file has no key bleed_mm",
        "move it into [[decal]]",
    ),
    "a key of the shop file in the job": (
        "gutter_mm = 4.0",
        "avoid_m = [[12.1, 12.4]]",
        "regatta.toml",
        "a job file has no key avoid_m",
        "move it into [[roll]] of the shop file",
    ),
    "a key like no other": (
        "bleed_mm = 1.5",
        '"x y" = 1',
        DECAL_2,
        '[[decal]] has no key "x y"',
        "delete it; known here: name, artwork, quantity, width_mm, height_mm, cut, contour, ",
    ),
    "a key in brackets": (
        "gutter_mm = 4.0",
        '"[key]" = 4.0',
        "regatta.toml",
        'a job file has no key "[key]"',
        "delete it; known here: name, shop, roll, setup, gutter_mm, ",
    ),
    "a key that nobody knows": (
        "gutter_mm = 4.0",
        "shelf = 3",
        "regatta.toml",
        "a job file has no key shelf",
        "delete it; known here: name, shop, roll, setup, gutter_mm, ",
    ),
    "a missing quantity": (
        "quantity = 96\n",
        "",
        DECAL_1,
        "quantity is missing",
        "add quantity (copies to deliver): a whole number from 1 to 100000",
    ),
    "a decal that is no table": (
        JOB[JOB.index("[[decal]]") :],
        "decal = 3\n",
        "regatta.toml, decal",
        "decal is 3, not a list",
        "write one or more [[decal]], each a table with name, artwork",
    ),
    "single brackets": (
        JOB[JOB.index("[[decal]]") :],
        '[decal]\nname = "a"\n',
        "regatta.toml, [decal]",
        "decal stands in single brackets",
        "write [[decal]]: there can be several",
    ),
    "no decal": (
        JOB[JOB.index("[[decal]]") :],
        "decal = []\n",
        "regatta.toml, decal",
        "decal is [], which is empty",
        "write one or more [[decal]], each a table with name, artwork",
    ),
}

IN_SHOP = {
    "price in quotes": (
        "price = 5.40",
        'price = "5.40"',
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        'price is "5.40", not a number',
        "write a number from 0 to 1000000000, without quotes",
    ),
    "price below nothing": (
        "price = 5.40",
        "price = -5.40",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "price is -5.40, below 0",
        "write a number from 0 to 1000000000",
    ),
    "price without end": (
        "price = 5.40",
        "price = inf",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "price is inf, not a finite number",
        "write a number from 0 to 1000000000",
    ),
    "price of a million digits": (
        "price = 5.40",
        "price = 0x" + 900_000 * "f",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "price is a number of more than 60 digits, above 1000000000",
        "write a number from 0 to 1000000000",
    ),
    "price finer than money": (
        "price = 5.40",
        "price = 0.00000001",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "price is 1e-8, finer than 6 decimals",
        "write a number from 0 to 1000000000",
    ),
    "a unit of price": (
        'per = "roll"',
        'per = "rolls"',
        'shop.toml, [[roll]] 2 "matt 760"',
        'per is "rolls", which is not known',
        'write "m2", "m" or "roll"; the nearest is "roll"',
    ),
    "a spoiled stretch of three ends": (
        "[12.1, 12.4]",
        "[12.1, 12.4, 13]",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "avoid_m 1 is [12.1, 12.4, 13], which has 3 entries, 2 at most",
        "write [from, to], each a number from 0 to 10000",
    ),
    "a spoiled stretch in words": (
        "[20, 21.5]",
        '["20 m", 21.5]',
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        'avoid_m 2 1 is "20 m", not a number',
        "write a number from 0 to 10000, without quotes",
    ),
    "shrinkage beyond film": (
        "shrink_along_percent = -0.1",
        "shrink_along_percent = 12",
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        "shrink_along_percent is 12, above 10",
        "write a number from -10 to 10",
    ),
    "a task as text": (
        'does = ["cut"]',
        'does = "cut"',
        CUTTER,
        'does is "cut", not a list',
        'write a list in brackets of "print", "laminate" and "cut"',
    ),
    "a task that no machine does": (
        'does = ["cut"]',
        'does = ["cutt"]',
        CUTTER,
        'does 1 is "cutt", which is not known',
        'write "print", "laminate" or "cut"; the nearest is "cut"',
    ),
    "a machine that does nothing": (
        'does = ["cut"]',
        "does = []",
        CUTTER,
        "does is [], which is empty",
        'write a list in brackets of "print", "laminate" and "cut"',
    ),
    "a mark of no known shape": (
        '"disc"',
        '"disk"',
        f"{CUTTER}, sensor",
        'shape is "disk", which is not known',
        'write "disc", "square", "corner" or "cross"; the nearest is "disc"',
    ),
    "a tool for a third kind of cut": (
        "tools = { kiss",
        "tools = { kis",
        f"{CUTTER}, tools",
        "tools has no key kis",
        'write "kiss" or "through"; the nearest is "kiss"',
    ),
    "a tool that is a number": (
        '"blade 1"',
        "1",
        f"{CUTTER}, tools",
        "kiss is 1, not text",
        "write text in quotes, at most 80 characters",
    ),
    "a key of the sensor on the machine": (
        "frame_least_mm = 150",
        "spacing_mm = 150",
        CUTTER,
        "[[machine]] has no key spacing_mm",
        "move it into [machine.sensor]",
    ),
    "a key of the machine misspelt": (
        "speed_mm_s = 400",
        "speed_mm_s = 400\naceleration = 3",
        CUTTER,
        "[[machine]] has no key aceleration",
        "delete it; known here: ",
    ),
    "half a pass": (
        "passes = 6",
        "passes = 6.5",
        MODE,
        "passes is 6.5, not a whole number",
        "write a whole number from 1 to 64",
    ),
    "three directions": (
        "turnaround_s = 0.4",
        "turnaround_s = 0.4\ndirections = 3",
        MODE,
        "directions is 3, which is not known",
        "write 1 or 2",
    ),
    "a print mode without a swath": (
        "swath_mm = 54\n",
        "",
        MODE,
        "swath_mm is missing",
        "add swath_mm (height of the printed band of one pass): a number from 0.1 to 5000",
    ),
    "a flag in words": (
        'finish = "gloss"',
        'directional = "yes"',
        'shop.toml, [[roll]] 1 "white gloss 1370"',
        'directional is "yes", not true or false',
        "write true or false, without quotes",
    ),
    "a handling time that is true": (
        "handling_s = 240",
        "handling_s = true",
        'shop.toml, [[setup]] 1 "pair", stages 1',
        "handling_s is true, not a number",
        "write a number from 0 to 10000000",
    ),
    "an edge that film does not have": (
        '"trailing"',
        '"left"',
        'shop.toml, [[setup]] 2 "combined"',
        'enters is "left", which is not known',
        'write "leading" or "trailing"',
    ),
    "a currency sign": (
        '"EUR"',
        '"€"',
        "shop.toml, [cost]",
        'currency is "€", not of the right form',
        'write text such as "EUR"',
    ),
    "double brackets": (
        "[cost]",
        "[[cost]]",
        "shop.toml, cost",
        "cost stands in double brackets",
        "write [cost]: there is only one",
    ),
    "no rates": (
        SHOP[SHOP.index("[cost]") :],
        "",
        "shop.toml",
        "[cost] is missing",
        "add [cost] (rates): a table with currency, ink_per_ml, ink_ml_per_m2, labour_per_h",
    ),
    "no machine": (
        SHOP[SHOP.index("[[machine]]") : SHOP.index("[[setup]]")],
        "",
        "shop.toml",
        "[[machine]] is missing",
        "add [[machine]] (printers and cutters): one or more [[machine]], each a table with ",
    ),
}


@pytest.mark.parametrize("case", IN_JOB)
def test_a_wrong_key_of_the_job(tmp_path, case):
    old, new, place, what, do = IN_JOB[case]
    faults = faults_in(write(tmp_path, changed(JOB, old, new)))

    told(faults[0], place, what, do)
    assert len(faults) == 1, faults


@pytest.mark.parametrize("case", IN_SHOP)
def test_a_wrong_key_of_the_shop(tmp_path, case):
    old, new, place, what, do = IN_SHOP[case]
    faults = faults_in(write(tmp_path, shop=changed(SHOP, old, new)))

    told(faults[0], place, what, do)
    others = {"no machine": 4}  # both setups lack both of their machines
    assert len(faults) == 1 + others.get(case, 0), faults


def told(fault, place, what, do):
    """Four parts of a fault; the place ends in the key, when the key is what is wrong."""
    assert fault.what == what
    assert fault.where.startswith(place)
    assert fault.do.startswith(do)
    assert fault.code == WRONG_INPUT


def test_a_fault_is_three_lines_as_a_person_needs_them(tmp_path):
    path = write(tmp_path, changed(JOB, '"free"', '"quater"'))

    assert str(only_fault(path)) == (
        'rotate is "quater", which is not known\n'
        '  where  regatta.toml, [[decal]] 2 "club burgee", rotate\n'
        '  do     write "none", "half", "quarter" or "free"; the nearest is "quarter"'
    )


def test_all_faults_of_both_files_come_at_once(tmp_path):
    job = changed(changed(JOB, "= 96", "= 0"), '"club burgee"', '"berth plate"')
    job = changed(changed(job, "bleed_mm", "bleed"), '"pair"', '"par"')
    shop = changed(changed(SHOP, "width_mm = 1625", "width_mm = nan"), "length_m = 50\n", "")
    shop = changed(shop, "spacing_mm = 400", "spacing_mm = 13.9")

    with pytest.raises(Faults) as raised:
        read_job(write(tmp_path, job, shop))

    assert [fault.what for fault in raised.value.each] == [
        "quantity is 0, below 1",
        "[[decal]] has no key bleed",
        'two decals are called "berth plate"',
        "width_mm is nan, not a finite number",
        'per is "roll", but length_m is missing',
        "spacing_mm is 13.9, shorter than a mark with its clear zones, 14",
        'shop.toml has no setup "par"',
    ]
    assert raised.value.code == WRONG_INPUT


def test_who_has_very_many_faults_sees_the_first_fifty(tmp_path):
    job = JOB + "".join(f"nonsense_{k} = 1\n" for k in range(60))
    faults = faults_in(write(tmp_path, job))

    assert len(faults) == 51
    assert faults[-1].what == "10 more keys or values are wrong"
