"""A headless Chromium for tests that open a page as a reader would; what it asks of the network and says is kept."""

import os
import shutil
from contextlib import contextmanager

import pytest
from playwright.sync_api import sync_playwright

NAMES = ("chromium", "chromium-browser", "google-chrome", "chrome")


@contextmanager
def chromium():
    """Start the browser; skip the test where there is none, but not where all checks must run."""
    path = next((found for name in NAMES if (found := shutil.which(name))), None)
    if path is None:
        told = f"no browser to open the report with: none of {', '.join(NAMES)} is installed"
        if os.environ.get("CI"):
            pytest.fail(told)
        pytest.skip(told)
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=path, args=["--no-sandbox"])
        try:
            yield browser
        finally:
            browser.close()


class Opened:
    """A page in a window of its own, with the addresses it asked for and everything it said."""

    def __init__(self, browser, path, width, height, **options):
        self.context = browser.new_context(viewport={"width": width, "height": height}, **options)
        self.page = self.context.new_page()
        self.asked, self.said = [], []
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.on("console", lambda message: self.said.append(message.text))
        self.page.on("pageerror", lambda error: self.said.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.said.append(dialog.message), dialog.dismiss()))
        self.page.goto(path.as_uri(), wait_until="load")

    def __enter__(self):
        return self

    def __exit__(self, *error):
        self.context.close()
