"""Keys that are right one by one, and wrong together."""

import pytest

from nestplan.faults import OUT_OF_REACH, WRONG_INPUT
from nestplan.job import read_job
from tests.job.sample import JOB, SHOP, changed, faults_in, only_fault, part, write

CUTTER = 'shop.toml, [[machine]] 2 "cutter"'
COMBINED = changed(JOB, '"pair"', '"combined"')


def test_two_decals_of_one_name(tmp_path):
    fault = only_fault(write(tmp_path, changed(JOB, "club burgee", "berth plate")))

    assert fault.what == 'two decals are called "berth plate"'
    assert fault.where == 'regatta.toml, [[decal]] 2 "berth plate", name'
    assert fault.do == "rename it; [[decal]] 1 has this name already"


@pytest.mark.parametrize(
    ("kind", "old", "new"),
    [
        ("roll", '"matt 760"', '"white gloss 1370"'),
        ("machine", '"combined device"\ndoes', '"printer"\ndoes'),
        ("setup", '"combined"', '"pair"'),
    ],
)
def test_two_of_one_name_in_the_shop(tmp_path, kind, old, new):
    faults = faults_in(write(tmp_path, shop=changed(SHOP, old, new)))
    name = new.split('"')[1]

    assert f'two {kind}s are called "{name}"' in [fault.what for fault in faults]


def test_two_modes_of_one_name(tmp_path):
    mode = part("[[machine.mode]]", "[[machine]]")
    fault = only_fault(write(tmp_path, shop=changed(SHOP, mode, mode + mode)))

    assert fault.what == 'two modes are called "six passes"'
    assert fault.where == 'shop.toml, [[machine]] 1 "printer", mode 2 "six passes", name'


@pytest.mark.parametrize("other", ["from_plan", "start_on"])
def test_copies_kept_together_on_other_film_or_in_other_places(tmp_path, other):
    job = changed(JOB, "gutter_mm", f'{other} = "plan"\ngutter_mm')
    faults = faults_in(write(tmp_path, changed(job, 'rotate = "free"', "keep_together = true")))
    told = [fault for fault in faults if "keep_together" in fault.where]

    assert [fault.do for fault in told] == [f"delete keep_together here, or {other}"]


def test_a_roll_that_the_shop_lacks(tmp_path):
    fault = only_fault(write(tmp_path, changed(JOB, "white gloss 1370", "white glos 1370")))

    assert str(fault) == (
        'shop.toml has no roll "white glos 1370"\n'
        "  where  regatta.toml, roll\n"
        '  do     write "white gloss 1370", the nearest; it also has "matt 760"'
    )


def test_part_of_a_name_is_enough_to_guess_it(tmp_path):
    fault = only_fault(write(tmp_path, changed(JOB, "white gloss 1370", "760")))

    assert fault.do.startswith('write "matt 760", the nearest')


def test_a_setup_like_no_other_is_answered_with_all(tmp_path):
    fault = only_fault(write(tmp_path, changed(JOB, '"pair"', '"xyz"')))

    assert fault.what == 'shop.toml has no setup "xyz"'
    assert fault.do == 'write "pair" or "combined"'


def test_a_stage_whose_machine_does_not_exist(tmp_path):
    shop = changed(SHOP, 'machine = "cutter"', 'machine = "cuter"')
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == 'the shop has no machine "cuter"'
    assert fault.where == 'shop.toml, [[setup]] 1 "pair", stages 2, machine'
    assert fault.do.startswith('write "cutter", the nearest')


def test_a_machine_that_cannot_do_its_stage(tmp_path):
    shop = changed(SHOP, 'machine = "printer",', 'machine = "printer", does = "cut",')
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == '"printer" does not cut: it does "print"'
    assert fault.where == 'shop.toml, [[setup]] 1 "pair", stages 1, does'


def test_a_combined_device_must_say_what_it_does_in_each_stage(tmp_path):
    shop = changed(SHOP, '"combined device", does = "cut"', '"combined device"')
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == (
        '"combined device" does "print" and "cut", but the stage does not say which'
    )
    assert fault.where == 'shop.toml, [[setup]] 2 "combined", stages 2'
    assert fault.do == 'add does = "print" or "cut"'


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        (
            '    { machine = "cutter", lag_s = 7200, handling_s = 420 },\n',
            "",
            'the only stage of "pair" is "print"',
        ),
        (
            '    { machine = "printer", handling_s = 240 },\n',
            '    { machine = "printer" },\n    { machine = "printer" },\n',
            'the stages of "pair" are "print", "print" and "cut"',
        ),
        (
            'machine = "cutter", lag',
            'machine = "printer", lag',
            'the stages of "pair" are "print" and "print"',
        ),
    ],
)
def test_a_setup_prints_once_and_then_cuts_once(tmp_path, old, new, what):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, old, new)))

    assert fault.what == what
    assert fault.where == 'shop.toml, [[setup]] 1 "pair", stages'


def test_cutting_before_printing_is_refused(tmp_path):
    shop = changed(SHOP, 'machine = "printer", handling', 'machine = "x", handling')
    shop = changed(shop, 'machine = "cutter"', 'machine = "printer"')
    shop = changed(shop, 'machine = "x"', 'machine = "cutter"')

    assert only_fault(write(tmp_path, shop=shop)).what == (
        'the stages of "pair" are "cut" and "print"'
    )


def test_a_printer_without_a_mode(tmp_path):
    mode = part("[[machine.mode]]", "[[machine]]")
    fault = only_fault(write(tmp_path, shop=changed(SHOP, mode, "")))

    assert fault.what == '"printer" prints, but has no print mode'
    assert fault.where == 'shop.toml, [[machine]] 1 "printer", mode'
    assert fault.do.startswith("add a [[machine.mode]] with name, resolution_dpi")


@pytest.mark.parametrize(
    ("line", "do"),
    [
        ("speed_mm_s = 400\n", "greatest speed of the blade): a number from 1"),
        ("acceleration_mm_s2 = 9800\n", "1 g is 9807): a number from 1"),
        ("frame_greatest_mm = 1400\n", "longest frame it takes): a number from 1"),
        (part("[machine.sensor]", "[[machine]]"), "a table with"),
    ],
)
def test_a_cutter_lacks_what_cutting_needs(tmp_path, line, do):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, line, "")))
    key = "sensor" if line.startswith("[") else line.split(" ")[0]

    assert fault.what == f'"cutter" cuts, but {key} is missing'
    assert fault.where == CUTTER
    assert fault.do.startswith(f"add {key} (")
    assert do in fault.do


def test_a_printer_needs_nothing_that_cutting_needs(tmp_path):
    assert faults_in(write(tmp_path)) == []


def test_a_machine_does_nothing_twice(tmp_path):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, '["cut"]', '["cut", "cut"]')))

    assert fault.what == 'does is "cut" and "cut", the same twice'


def test_margins_wider_than_the_machine_are_wrong_by_themselves(tmp_path):
    shop = changed(SHOP, "margin_left_mm = 10", "margin_left_mm = 1613")
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == "the margins take 1625 mm, width_mm is 1625"
    assert fault.code == WRONG_INPUT


def test_margins_as_wide_as_the_film_are_out_of_reach(tmp_path):
    shop = changed(SHOP, "margin_left_mm = 10", "margin_left_mm = 1358")
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == (
        'the margins of "printer" and "cutter" take 1370 mm, "white gloss 1370" is 1370 mm wide'
    )
    assert fault.where == 'shop.toml, [[machine]] 1 "printer", margin_left_mm'
    assert fault.code == OUT_OF_REACH


def test_film_wider_than_a_machine_is_out_of_reach(tmp_path):
    fault = only_fault(write(tmp_path, COMBINED))

    assert str(fault) == (
        '"white gloss 1370" is 1370 mm wide, "combined device" takes 800 mm\n'
        '  where  shop.toml, [[machine]] 3 "combined device", width_mm\n'
        '  do     take a roll of 800 mm or less, or another setup than "combined"'
    )
    assert fault.code == OUT_OF_REACH


def test_wrong_input_comes_before_what_is_out_of_reach(tmp_path):
    faults = faults_in(write(tmp_path, changed(COMBINED, "= 96", "= 0")))

    assert {fault.code for fault in faults} == {WRONG_INPUT, OUT_OF_REACH}


def test_a_spacing_shorter_than_a_mark_with_its_clear_zones(tmp_path):
    shop = changed(SHOP, "spacing_mm = 400", "spacing_mm = 13.9")
    fault = only_fault(write(tmp_path, shop=shop))

    assert str(fault) == (
        "spacing_mm is 13.9, shorter than a mark with its clear zones, 14\n"
        f"  where  {CUTTER}, sensor, spacing_mm\n"
        "  do     write 14 or more: size_mm 6 and clear_mm 4 on both sides"
    )
    assert fault.code == WRONG_INPUT


def test_a_line_thicker_than_its_mark(tmp_path):
    shop = changed(SHOP, "size_mm = 8", "size_mm = 8, line_mm = 8.5")

    assert only_fault(write(tmp_path, shop=shop)).what == "line_mm is 8.5, more than size_mm, 8"


def test_a_least_frame_longer_than_the_greatest(tmp_path):
    shop = changed(SHOP, "frame_least_mm = 150", "frame_least_mm = 1401")
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == "frame_least_mm is 1401, more than frame_greatest_mm, 1400"
    assert fault.where == f"{CUTTER}, frame_least_mm"


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ("[12.1, 12.4]", "[12.4, 12.1]", "avoid_m 1 runs from 12.4 to 12.1"),
        ("[12.1, 12.4]", "[12.1, 12.1]", "avoid_m 1 runs from 12.1 to 12.1"),
        (
            "[20, 21.5]",
            "[12.3, 21.5]",
            "avoid_m 2 begins at 12.3, before the one in front of it ends at 12.4",
        ),
        ("[672, 698]", "[698, 672]", "roller_lanes_mm 2 runs from 698 to 672"),
        ("[672, 698]", "[672, 1601]", "roller_lanes_mm 2 ends at 1601, beyond width_mm, 1600"),
    ],
)
def test_spans_run_upwards(tmp_path, old, new, what):
    assert only_fault(write(tmp_path, shop=changed(SHOP, old, new))).what == what


def test_a_roll_priced_whole_needs_its_length(tmp_path):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, "length_m = 50\n", "")))

    assert fault.what == 'per is "roll", but length_m is missing'
    assert fault.where == 'shop.toml, [[roll]] 2 "matt 760"'


def test_width_and_height_together_would_stretch_the_art(tmp_path):
    fault = only_fault(
        write(tmp_path, changed(JOB, "width_mm = 90", "width_mm = 90\nheight_mm = 60"))
    )

    assert fault.what == "width_mm is 90 and height_mm is 60: art is not stretched"
    assert fault.where == 'regatta.toml, [[decal]] 1 "berth plate", height_mm'


@pytest.mark.parametrize(
    ("artwork", "what"),
    [
        ("/srv/art/plate.svg", 'artwork "/srv/art/plate.svg" is an absolute path'),
        (r"C:\\art\\plate.svg", r'artwork "C:\\art\\plate.svg" is an absolute path'),
        (r"art\\plate.svg", r'artwork is "art\\plate.svg", with backslashes'),
        ("../plate.svg", 'artwork "../plate.svg" lies outside the job\'s folder, at '),
        ("art/../../plate.svg", 'artwork "art/../../plate.svg" lies outside the job\'s folder'),
    ],
)
def test_artwork_lies_in_the_jobs_folder(tmp_path, artwork, what):
    fault = only_fault(write(tmp_path, changed(JOB, "art/berth_plate.svg", artwork)))

    assert fault.what.startswith(what)
    assert fault.where == 'regatta.toml, [[decal]] 1 "berth plate", artwork'


def test_a_link_does_not_lead_out_of_the_jobs_folder(tmp_path):
    folder = tmp_path / "job"
    folder.mkdir()
    (tmp_path / "plate.svg").write_text("<svg/>")
    (folder / "plate.svg").symlink_to("../plate.svg")
    fault = only_fault(write(folder, changed(JOB, "art/berth_plate.svg", "plate.svg")))

    assert fault.what.endswith(f"lies outside the job's folder, at {tmp_path.resolve()}/plate.svg")


def test_a_link_to_itself_leads_nowhere(tmp_path):
    (tmp_path / "plate.svg").symlink_to("plate.svg")
    fault = only_fault(write(tmp_path, changed(JOB, "art/berth_plate.svg", "plate.svg")))

    assert fault.what.startswith('artwork "plate.svg" leads nowhere')


def test_a_cutter_that_lists_its_tools_must_have_the_one_it_takes(tmp_path):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, ', through = "blade 2"', "")))

    assert fault.what == 'the cutter of "pair" has no tool for a through cut'
    assert fault.where == 'regatta.toml, [[decal]] 2 "club burgee", cut'
    assert fault.code == OUT_OF_REACH


def test_a_faulty_machine_is_not_said_to_be_missing(tmp_path):
    fault = only_fault(write(tmp_path, shop=changed(SHOP, "width_mm = 1625", "width_mm = 0")))

    assert fault.what == "width_mm is 0, below 10"


def test_copies_cannot_stay_where_they_lay_and_come_together(tmp_path):
    job = changed(JOB, "gutter_mm = 4.0\n", 'gutter_mm = 4.0\nfrom_plan = "../out"\n')
    fault = only_fault(write(tmp_path, changed(job, "width_mm = 90\n", "keep_together = true\n")))

    assert fault.where == 'regatta.toml, [[decal]] 1 "berth plate", keep_together'
    assert fault.do == "delete keep_together here, or from_plan"


def test_a_decal_to_fill_with_that_the_job_lacks(tmp_path):
    job = changed(JOB, "gutter_mm = 4.0\n", 'gutter_mm = 4.0\nfill_with = "birth plate"\n')
    fault = only_fault(write(tmp_path, job))

    assert fault.what == 'regatta.toml has no decal "birth plate"'
    assert fault.where == "regatta.toml, fill_with"
    assert fault.do.startswith('write "berth plate", the nearest')


@pytest.mark.parametrize("base", ["clear", "dark", "mirror"])
def test_film_on_which_black_is_not_seen_needs_a_printer_with_white(tmp_path, base):
    shop = changed(SHOP, "width_mm = 1370", f'width_mm = 1370\nbase = "{base}"')
    fault = only_fault(write(tmp_path, shop=shop))

    assert fault.what == (
        f'"white gloss 1370" is {base} film: no sensor sees a black mark on it without white '
        'below, and "printer" prints no white'
    )
    assert fault.where == 'shop.toml, [[roll]] 1 "white gloss 1370", base'
    assert "prints_white = true" in fault.do
    assert fault.code == OUT_OF_REACH

    able = changed(shop, 'does = ["print"]', 'does = ["print"]\nprints_white = true')
    assert faults_in(write(tmp_path, shop=able)) == []


LAMINATED = changed(JOB, 'setup = "pair"', 'setup = "pair"\nlaminate = "clear laminate"')
LAMINATE = """
[[roll]]
name = "clear laminate"
use = "laminate"
width_mm = 1400
left_m = 40
price = 2
"""
LAMINATOR = """
[[machine]]
name = "laminator"
does = ["laminate"]
width_mm = 1600
laminate_mm_s = 20
"""


def with_laminator(shop, stage=True):
    at = shop.index("[[setup]]")
    shop = shop[:at] + LAMINATE + LAMINATOR + shop[at:]
    line = '    { machine = "cutter", lag'
    return changed(shop, line, '    { machine = "laminator" },\n' + line) if stage else shop


def test_a_laminated_job_needs_a_setup_that_laminates(tmp_path):
    fault = only_fault(write(tmp_path, LAMINATED, with_laminator(SHOP, stage=False)))

    assert fault.what == '"pair" has no stage that laminates'
    assert fault.code == OUT_OF_REACH
    assert read_job(write(tmp_path, LAMINATED, with_laminator(SHOP))).laminate.width_mm == 1400


@pytest.mark.parametrize(
    ("old", "new", "what"),
    [
        ('use = "laminate"', "", '"clear laminate" is not for laminating'),
        ("width_mm = 1400", "width_mm = 1300", "does not cover the print"),
        ("laminate_mm_s = 20\n", "", '"laminator" laminates, but laminate_mm_s is missing'),
    ],
)
def test_a_laminate_that_cannot_be(tmp_path, old, new, what):
    fault = only_fault(write(tmp_path, LAMINATED, changed(with_laminator(SHOP), old, new)))

    assert what in fault.what
