"""A browser that opens a page from disk and tells what became of it."""

import base64
import json
from pathlib import Path
from typing import Any

from selenium.webdriver import ChromeOptions, Remote
from selenium.webdriver.chromium.remote_connection import ChromiumRemoteConnection

ARGUMENTS = (
    "--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--hide-scrollbars",
    "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync",
    "--host-resolver-rules=MAP * ~NOTFOUND", "--force-device-scale-factor=1", "--lang=en-GB",
)
WIDE, TALL = 1280, 900
FULL = 12000
"""Pixels of height at most in a picture of a whole page."""


class Browser:
    """Pages are written into ``folder`` of the tree ``root``, which is all the browser sees."""

    def __init__(self, port: int, root: Path, folder: Path, pictures: Path) -> None:
        self.folder, self.pictures = folder, pictures
        self.place = f"file:///{folder.relative_to(root)}/"
        options = ChromeOptions()
        for argument in ARGUMENTS:
            options.add_argument(argument)
        options.set_capability("goog:loggingPrefs", {"browser": "ALL", "performance": "ALL"})
        wire = ChromiumRemoteConnection(f"http://127.0.0.1:{port}", "goog", "chrome", ignore_proxy=True)
        wire._commands["getLog"] = ("POST", "/session/$sessionId/se/log")
        self.driver = Remote(wire, options=options)
        self.driver.set_page_load_timeout(60)

    def afresh(self) -> None:
        self.driver.get("about:blank")
        self.ask("Emulation.setEmulatedMedia", media="", features=[])
        self.size(WIDE, TALL)
        self.log("browser")
        self.log("performance")

    def ask(self, what: str, **words: Any) -> dict[str, Any]:
        """A command of the browser's own protocol."""
        return self.driver.execute("executeCdpCommand", {"cmd": what, "params": words})["value"]

    def log(self, kind: str) -> list[dict[str, Any]]:
        """What was logged since the last call."""
        return self.driver.execute("getLog", {"type": kind})["value"]

    def open(self, text: str, name: str = "report.html") -> None:
        (self.folder / name).write_text(text, encoding="utf-8", errors="surrogatepass")
        self.driver.get(self.place + name)

    def size(self, wide: int, tall: int = TALL) -> None:
        self.ask(
            "Emulation.setDeviceMetricsOverride", width=wide, height=tall, deviceScaleFactor=1, mobile=False
        )

    def prefer(self, scheme: str) -> None:
        self.ask("Emulation.setEmulatedMedia", features=[{"name": "prefers-color-scheme", "value": scheme}])

    def script(self, code: str, *words: Any) -> Any:
        return self.driver.execute_script(code, *words)

    def key(self, name: str, code: int, shift: bool = False) -> None:
        """Press and release a key, as a keyboard does."""
        text = {"text": "\r"} if name == "Enter" else {}
        words = {"key": name, "code": name, "windowsVirtualKeyCode": code, "modifiers": 8 if shift else 0}
        self.ask("Input.dispatchKeyEvent", type="keyDown", **words, **text)
        self.ask("Input.dispatchKeyEvent", type="keyUp", **words)

    def complaints(self) -> list[str]:
        """Errors and warnings in the console since the last call."""
        return [one["message"] for one in self.log("browser") if one["level"] in ("SEVERE", "WARNING")]

    def requests(self) -> list[str]:
        """Addresses asked for since the last call, the page's own left out."""
        told = [json.loads(one["message"])["message"] for one in self.log("performance")]
        asked = [one["params"]["request"]["url"] for one in told if one["method"] == "Network.requestWillBeSent"]
        return [one for one in asked if not one.startswith((self.place, "about:", "data:,"))]

    def picture(self, name: str, whole: bool = True) -> bytes:
        """A picture of the page, kept for the eye."""
        words: dict[str, Any] = {}
        if whole:
            content = self.ask("Page.getLayoutMetrics")["cssContentSize"]
            words["clip"] = {
                "x": 0, "y": 0, "width": content["width"], "height": min(content["height"], FULL), "scale": 1,
            }
        made = base64.b64decode(self.ask("Page.captureScreenshot", captureBeyondViewport=whole, **words)["data"])
        (self.pictures / f"{name}.png").write_bytes(made)
        return made

    def printed(self, name: str) -> bytes:
        """The page as it is printed on A4, kept for the eye."""
        made = base64.b64decode(
            self.ask("Page.printToPDF", paperWidth=8.27, paperHeight=11.69, preferCSSPageSize=True)["data"]
        )
        (self.pictures / f"{name}.pdf").write_bytes(made)
        return made

    def quit(self) -> None:
        self.driver.quit()
