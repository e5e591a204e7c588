"""A quality engineer's whole walk in a browser: from a new gauge to the certificate that rests on it."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import Page

from shop.people.models import Person
from tests.browser.people import Somebody
from tests.browser.scene import Scene, satin_cover

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Window = Callable[..., Page]
# Five pieces, two people, two trials each: parts far apart, people and trials close together.
STUDY = "part\tperson\ttrial\tvalue\n" + "\n".join(
    f"{part}\t{person}\t{trial}\t{2 + part // 2},{10 + 2 * (person == 'B') + (part + trial) % 2}"
    for part in range(1, 6)
    for person in "AB"
    for trial in (1, 2)
)


@pytest.fixture
def sound_cover(lead: Person, polisher: Person, press_tech: Person, inspector: Person) -> Scene:
    """A cover that does not wear."""
    return satin_cover(lead, polisher, press_tech, inspector, wear_gu_a_day="0")


def test_quality_walks_from_a_gauge_to_a_certificate(sound_cover: Scene, window: Window) -> None:
    quality = Somebody(window("tablet"), sound_cover.quality)
    a_gauge_is_calibrated_and_read_on_its_tile(quality)
    a_study_says_how_well_it_repeats(quality)
    a_part_is_measured_with_it(quality, sound_cover)
    a_certificate_rests_on_it(quality, sound_cover)
    the_installation_is_proved(quality)


def a_gauge_is_calibrated_and_read_on_its_tile(quality: Somebody) -> None:
    quality.goes_to("Gauges").fits().opens("Enter a gauge")
    # The list above the form is filtered by kind, too.
    quality.page.locator(".gauge-new select[name=kind]").select_option("glossmeter")
    quality.types("Number", "G-77").types("Smallest step it shows", "0,01")
    quality.presses("Enter it").sees("G-77", "nothing that it reads decides anything until it is calibrated").fits()
    today = timezone.localdate()
    quality.types("Done on", (today - timedelta(days=1)).isoformat())
    quality.types("Holds until", (today + timedelta(days=300)).isoformat())
    quality.types("Certificate number", "C-2077")
    quality.types("a GU", "0,08").presses("Keep the calibration").sees("The calibration is kept.", "C-2077").fits()
    quality.opens("Check it on the tile").types("Tile", "BK-1").types("The gauge reads GU", "93,58")
    quality.types("The tile is GU", "93,6").types("Largest difference let pass GU", "1")
    quality.presses("Keep the check").sees("reads its tile well").fits()


def a_study_says_how_well_it_repeats(quality: Somebody) -> None:
    quality.follows("Study it").picks("What it reads", "gloss").picks("Angle of the gloss", "60")
    quality.picks("Unit of the values", "GU").fits().opens("Paste from a spreadsheet")
    quality.types("The table, with its head row", STUDY).presses("Put it into the grid")
    quality.presses("Work it out and keep it").sees("G-77", "Where the scatter comes from").fits()
    quality.sees("The gauge may decide.")


def a_part_is_measured_with_it(quality: Somebody, scene: Scene) -> None:
    quality.goes_to("Measure").types("Another tool", scene.tool).presses("Open").sees("Pick the spot")
    quality.opens(scene.worn).measures("gloss", "2,50").picks("Glossmeter", "G-77")
    quality.presses("Save and judge").sees("Kept. Here is what it means.", "conforms").fits()
    quality.opens("on G-77").sees("Combined")


def a_certificate_rests_on_it(quality: Somebody, scene: Scene) -> None:
    quality.goes_to("Tool list").follows(re.compile(scene.tool)).follows("Certificate").sees(scene.worn, "G-77").fits()
    quality.presses("Issue the certificate").sees("is issued")
    words = quality.reads_paper(f"{scene.tool}-F")
    for one in (scene.tool, scene.worn, "G-77", "conforms", "ISO 21920-3:2021"):
        assert one in words, f"{one!r} is not on the certificate: {words}"


def the_installation_is_proved(quality: Somebody) -> None:
    quality.goes_to("Records").sees("Certificates", "Suspect parts", "Concessions").fits().follows("Standards check")
    quality.sees(re.compile(r"All \d+ printed values are met")).fits()
