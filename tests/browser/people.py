"""How the people of the browser tests go about: sign in, go to a page, see, type, press."""

from __future__ import annotations

import re
from io import BytesIO
from urllib.parse import urljoin

from playwright.sync_api import Page, expect
from pypdf import PdfReader

from tests.conftest import PASSWORD

NUMBER = re.compile(r"WO-\d+")


class Somebody:
    """A person at a tablet of their own."""

    def __init__(self, page: Page, username: str) -> None:
        self.page = page
        page.goto("/")
        page.get_by_label("Sign-in name").fill(username)
        page.get_by_label("Password").fill(PASSWORD)
        page.get_by_role("button", name="Sign in").click()
        expect(page.get_by_role("button", name="Sign out")).to_be_visible()

    def goes_to(self, words: str) -> Somebody:
        """Go to a page of the top line."""
        self.page.get_by_role("navigation", name="Pages").get_by_role("link", name=words, exact=True).click()
        return self

    def follows(self, words: str | re.Pattern[str]) -> Somebody:
        """Follow the first link with these words."""
        self.page.locator("main").get_by_role("link", name=words).first.click()
        return self

    def presses(self, words: str, *, exact: bool = True) -> Somebody:
        """Press a button of the page."""
        self.page.locator("main").get_by_role("button", name=words, exact=exact).first.click()
        return self

    def opens(self, words: str) -> Somebody:
        """Unfold what is folded."""
        self.page.locator("summary", has_text=words).first.click()
        return self

    def types(self, label: str, words: str) -> Somebody:
        """Type into a field that can be seen."""
        self.page.get_by_label(label, exact=True).locator("visible=true").first.fill(words)
        return self

    def picks(self, label: str, words: str) -> Somebody:
        """Pick from a list the choice that holds these words."""
        field = self.page.get_by_label(label, exact=True).locator("visible=true").first
        value = field.locator("option", has_text=words).first.get_attribute("value")
        field.select_option(value)
        return self

    def picks_on_the_picture(self, face: str) -> Somebody:
        """Pick a face on its insert's picture; what was typed beside it stays, and the list shows the face."""
        insert, name = face.split(" ", 1)
        figure = self.page.locator("figure", has=self.page.locator("figcaption", has_text=insert))
        figure.locator("a", has=self.page.locator("title", has_text=name)).first.click()
        expect(self.page.get_by_label("Face", exact=True).locator("option:checked")).to_contain_text(face)
        return self

    def measures(self, parameter: str, value: str) -> Somebody:
        """Type a value into the first place on the sheet that asks for the parameter."""
        place = self.page.locator(".place:visible", has=self.page.locator(".must strong", has_text=parameter)).first
        place.locator("input[inputmode=decimal]").first.fill(value)
        return self

    def ticks(self, words: str) -> Somebody:
        """Tick one of the large ticks."""
        self.page.locator("label.tick:visible", has_text=words).first.click()
        return self

    def sees(self, *words: str | re.Pattern[str]) -> Somebody:
        """See these words on the page."""
        for one in words:
            try:
                expect(self.page.locator("body")).to_contain_text(one)
            except AssertionError:
                shown = self.page.locator("body").inner_text()
                raise AssertionError(f"{one!r} is not to be seen at {self.page.url}:\n{shown}") from None
        return self

    def does_not_see(self, *words: str) -> Somebody:
        """See none of these words in the page's own part."""
        for one in words:
            expect(self.page.locator("main")).not_to_contain_text(one)
        return self

    def sees_no_button(self, words: str) -> Somebody:
        """Be offered no such button."""
        expect(self.page.locator("main").get_by_role("button", name=words, exact=True)).to_have_count(0)
        return self

    def fits(self) -> Somebody:
        """See that nothing scrolls sideways."""
        wide, screen = self.page.evaluate("[document.documentElement.scrollWidth, window.innerWidth]")
        assert wide <= screen, f"{self.page.url} is {wide} px wide on {screen} px"
        return self

    def order_number(self) -> str:
        """Read the number of the work order on the page."""
        found = NUMBER.search(self.page.locator("main").inner_text())
        assert found is not None, self.page.locator("main").inner_text()
        return found.group()

    def reads_paper(self, link: str) -> str:
        """Open a document and return its text."""
        address = self.page.locator("main").get_by_role("link", name=link).first.get_attribute("href")
        answer = self.page.context.request.get(urljoin(self.page.url, str(address)))
        assert answer.headers["content-type"] == "application/pdf"
        pages = PdfReader(BytesIO(answer.body())).pages
        return " ".join(" ".join(page.extract_text() for page in pages).split())
