"""A headless Chromium that opens one file and tells what it did: errors, requests, pictures."""

from __future__ import annotations

import base64
import io
import json
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image

PHONE = (360, 780)
DESKTOP = (1280, 900)
CHROMIUM = ("chromium", "chromium-browser", "google-chrome")


def lacking() -> str:
    """Say what is missing for the browser tests; empty when they can run."""
    if not any(shutil.which(name) for name in CHROMIUM):
        return "no Chromium here: install the packages chromium and chromium-driver"
    if not shutil.which("chromedriver"):
        return "no chromedriver here: install the package chromium-driver"
    return ""


@dataclass(frozen=True)
class Opened:
    """What happened while a page was opened: requests it made, and lines of the console."""

    requests: tuple[str, ...]
    console: tuple[str, ...]


class Browser:
    """One browser process for all tests."""

    def __init__(self, profile: Path) -> None:
        from selenium import webdriver

        options = webdriver.ChromeOptions()
        options.binary_location = next(filter(None, map(shutil.which, CHROMIUM)))
        for argument in (
            "--headless=new",
            "--no-sandbox",  # tests run as root in a container
            "--disable-dev-shm-usage",
            "--disable-gpu",
            "--no-first-run",
            "--disable-background-networking",
            f"--user-data-dir={profile}",
        ):
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        service = webdriver.ChromeService(shutil.which("chromedriver"))
        self.driver = webdriver.Chrome(options=options, service=service)

    def close(self) -> None:
        self.driver.quit()

    def open(self, page: Path, size: tuple[int, int] = DESKTOP) -> Opened:
        """Open a file at a size and tell what it did."""
        width, height = size
        self.command(
            "Emulation.setDeviceMetricsOverride",
            width=width,
            height=height,
            deviceScaleFactor=1,
            mobile=width < 600,
        )
        for kind in ("browser", "performance"):
            self.driver.get_log(kind)
        self.driver.get(page.as_uri())
        return Opened(self._requests(), tuple(self._console()))

    @contextmanager
    def emulating(self, media: str = "", **features: str) -> Iterator[None]:
        """Show pages as on paper, or to whoever has asked for a scheme or for less motion."""
        asked = [{"name": f"prefers-{name}".replace("_", "-"), "value": value}
                 for name, value in features.items()]  # fmt: skip
        self.command("Emulation.setEmulatedMedia", media=media, features=asked)
        try:
            yield
        finally:
            self.command("Emulation.setEmulatedMedia", media="", features=[])

    def _requests(self) -> tuple[str, ...]:
        entries = [json.loads(entry["message"])["message"] for entry in self.log("performance")]
        return tuple(
            entry["params"]["request"]["url"]
            for entry in entries
            if entry["method"] == "Network.requestWillBeSent"
        )

    def _console(self) -> list[str]:
        return [entry["message"] for entry in self.log("browser")]

    def log(self, kind: str) -> list[dict[str, Any]]:
        entries: list[dict[str, Any]] = self.driver.get_log(kind)
        return entries

    def command(self, name: str, **parameters: Any) -> Any:
        """Send one command of the DevTools protocol."""
        return self.driver.execute_cdp_cmd(name, parameters)

    def script(self, text: str, *arguments: Any) -> Any:
        return self.driver.execute_script(text, *arguments)

    def press(self, key: str) -> None:
        """Press a key, wherever the focus is."""
        from selenium.webdriver.common.action_chains import ActionChains
        from selenium.webdriver.common.keys import Keys

        pressed = Keys.TAB if key == "Tab" else key
        ActionChains(self.driver).send_keys(pressed).perform()

    def picture(self, path: Path) -> Path:
        """Write a picture of the whole page."""
        shot = self.command("Page.captureScreenshot", captureBeyondViewport=True)
        path.write_bytes(base64.b64decode(shot["data"]))
        return path

    def pixels(self) -> NDArray[np.uint8]:
        """Return what is on the screen: height, width, colours."""
        shot = self.command("Page.captureScreenshot")
        with Image.open(io.BytesIO(base64.b64decode(shot["data"]))) as image:
            return np.asarray(image.convert("RGB"))

    def print(self, path: Path) -> Path:
        """Write the page as it is printed."""
        printed = self.command("Page.printToPDF", preferCSSPageSize=True, printBackground=True)
        path.write_bytes(base64.b64decode(printed["data"]))
        return path

    def accessibility(self) -> list[str]:
        """Return the violations that axe-core finds, by the rules of WCAG 2.2 AA and its advice."""
        axe = files("axe_selenium_python") / "node_modules" / "axe-core" / "axe.min.js"
        self.script(axe.read_text(encoding="utf-8"))
        tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
        found = self.driver.execute_async_script(
            "axe.run({runOnly: arguments[0]}).then(arguments[1])", tags
        )
        return [
            f"{violation['id']}: {node['html'][:120]}"
            for violation in found["violations"]
            for node in violation["nodes"]
        ]
