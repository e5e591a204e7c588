"""The whole loop in a browser: by wear and from damage, by four people who sign in one after another."""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from shop.people.models import Person
from tests.browser.people import Somebody
from tests.browser.scene import Scene, satin_cover

pytestmark = [pytest.mark.browser, pytest.mark.django_db(transaction=True)]
Window = Callable[..., Page]
WEARING_GU_A_DAY = "0.017"


@pytest.fixture
def worn_cover(lead: Person, polisher: Person, press_tech: Person, inspector: Person) -> Scene:
    """A cover whose first face wears steadily towards its upper limit of gloss."""
    return satin_cover(lead, polisher, press_tech, inspector, wear_gu_a_day=WEARING_GU_A_DAY)


@pytest.fixture
def sound_cover(lead: Person, polisher: Person, press_tech: Person, inspector: Person) -> Scene:
    """A cover that does not wear."""
    return satin_cover(lead, polisher, press_tech, inspector, wear_gu_a_day="0")


def test_face_goes_all_the_way_round_by_wear(worn_cover: Scene, window: Window) -> None:
    order = called_by_a_reading(worn_cover, window)
    given_by_the_lead(worn_cover, window, order, why="heading for 4")
    worked_at_the_vice(worn_cover, window, order)
    passed_and_released(worn_cover, window, order)
    runs_a_new_life(worn_cover, window, order)


def test_face_goes_all_the_way_round_from_a_damage_call(sound_cover: Scene, window: Window) -> None:
    order = called_from_the_press(sound_cover, window)
    given_by_the_lead(sound_cover, window, order, why="scratch or drag was reported")
    worked_at_the_vice(sound_cover, window, order)
    passed_and_released(sound_cover, window, order)
    runs_a_new_life(sound_cover, window, order)


def called_by_a_reading(scene: Scene, window: Window) -> str:
    """The press tech logs shots, quality measures, and the software raises the order."""
    press = Somebody(window("phone"), scene.press)
    press.sees("Press log").follows(re.compile(scene.tool)).sees("Fit to run?").fits()
    press.ticks("by hand").types("The number shown", "9 500").presses("Log it")
    press.sees(re.compile(r"9.500.shots taken; the tool stands at 59.500"))

    quality = Somebody(window("tablet"), scene.quality)
    quality.sees("Measure today").types("Another tool", scene.tool).presses("Open").sees("Pick the spot").fits()
    quality.opens(scene.worn)
    quality.measures("gloss", "3,85")
    quality.picks("Glossmeter", "G-1").presses("Save and judge")
    quality.sees("Kept. Here is what it means.", "conforms", "3.85 GU", scene.worn)
    quality.goes_to("Pull list").sees(scene.worn, "heading for 4")
    return quality.order_number()


def called_from_the_press(scene: Scene, window: Window) -> str:
    """The press tech sees a drag mark and reports it; the tool may not run on."""
    press = Somebody(window("phone"), scene.press)
    press.follows(re.compile(scene.tool)).sees("Fit to run?", "Yes")
    press.follows("Report damage").ticks("scratch or drag").ticks("Parts are bad now")
    press.types("Note", "Drag mark beside the gate").picks_on_the_picture(scene.worn)
    press.presses("Report it").fits()
    press.sees("Drag mark beside the gate", "No")
    press.goes_to("Tool list").follows(re.compile(scene.tool)).sees("due", "WO-")
    return press.order_number()


def given_by_the_lead(scene: Scene, window: Window, order: str, why: str) -> None:
    """The lead sees why, accepts, gives it to the polisher, and prints the traveller."""
    lead = Somebody(window("tablet"), scene.lead)
    lead.sees("Pull list", scene.worn, why).fits()
    lead.goes_to("Bench").sees("raised", order, why).fits().follows(order)
    lead.sees(order, scene.tool, why, "What is next").sees_no_button("Start the work").presses("Accept")
    lead.sees("accepted").picks("Polisher", "Ivo Brandt").presses("Give it").sees("Given to Ivo Brandt").fits()
    lead.presses("Issue the traveller").sees(f"{order}-T")
    paper = lead.reads_paper(f"{order}-T")
    for words in (order, scene.tool, scene.title, scene.worn, why, "clean", "Ivo Brandt", "Steel passed at the bench"):
        assert words in paper, f"{words!r} is not on the traveller: {paper}"
    assert re.search(r"\b(F|FEPA F|FEPA P|P|CAMI|stone) ?\d{3}\b", paper), paper


def worked_at_the_vice(scene: Scene, window: Window, order: str) -> None:
    """The tool comes out of the press; the polisher starts, signs each step with minutes, and hands over."""
    press = Somebody(window("tablet"), scene.press)
    press.follows(re.compile(scene.tool)).follows("End the run").ticks("bench").presses("End the run")
    press.sees("The run on P7 has ended.")

    polisher = Somebody(window("phone"), scene.polisher)
    polisher.sees("My work, in order", order, scene.tool).presses("Start").sees("On the bench.").fits()
    for _step in range(12):
        if polisher.page.get_by_role("button", name="Step done").count() == 0:
            break
        polisher.types("Minutes", "15").presses("Step done").sees("is signed.")
    polisher.sees("Every step is signed.").presses("Hand over to the steel check").sees("steel check")
    polisher.follows(order).follows(order)
    polisher.sees("15 min", "Nothing here waits for your role.").sees_no_button("Pass the steel").fits()


def passed_and_released(scene: Scene, window: Window, order: str) -> None:
    """Quality passes the steel; the press runs first-offs; quality passes the parts and releases."""
    quality = Somebody(window("tablet"), scene.quality)
    quality.goes_to("Bench").follows(order).sees("Still to be measured:").presses("Pass the steel")
    quality.sees("Not measured yet").follows("Measure").sees("Ra")
    quality.measures("Ra", "0,42").picks("Roughness gauge", "S-1").presses("Save and judge").sees("conforms")
    quality.follows(re.compile("Sign the check")).sees("Everything that is asked for was measured")
    quality.presses("Pass the steel").sees("The steel has passed.", "parts check")

    press = Somebody(window("tablet"), scene.press)
    press.goes_to("Tool list").follows(re.compile(scene.tool)).sees("awaiting parts")
    press.goes_to("Press log").follows(re.compile(scene.tool)).sees("With conditions").follows("Start a run")
    press.picks("Press", "P7").presses("Start").sees("has begun.")
    press.ticks("by hand").types("The number shown", "20").presses("Log it").sees("20 shots taken")

    quality.page.reload()
    quality.follows("Measure").sees("gloss")
    quality.measures("gloss", "2.5").picks("Glossmeter", "G-1").presses("Save and judge").sees("conforms")
    quality.follows(re.compile("Sign the check")).presses("Pass the parts").sees("The parts have passed.").fits()
    quality.presses("Release the tool").sees("Released. The tool may run.", "This order is done")


def runs_a_new_life(scene: Scene, window: Window, order: str) -> None:
    """The press may run; the face is sound in its second life, and the pull list does not name the call any more."""
    press = Somebody(window("phone"), scene.press)
    press.follows(re.compile(scene.tool)).sees("Fit to run?", "Yes").fits()
    press.goes_to("Tool list").follows(re.compile(scene.tool)).sees("sound", order).fits()

    lead = Somebody(window("desktop"), scene.lead)
    lead.goes_to("Bench").does_not_see(order).follows("Ended orders").sees(order, "released")
