"""Take the pictures of docs/style.md: the studio's style page in both looks.

Usage: python tools/picture_style.py ADDRESS CHROMIUM, with a studio at work at ADDRESS.
"""

import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

IMAGES = Path(__file__).parents[1] / "docs" / "images"


def main(address: str, chromium: str) -> None:
    """Write ``studio-paper.png`` and ``studio-stage.png``."""
    with sync_playwright() as tool:
        browser = tool.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
        for look in ("paper", "stage"):
            context = browser.new_context(viewport={"width": 960, "height": 800})
            context.add_init_script(f"localStorage.setItem('look', '{look}')")
            page = context.new_page()
            page.goto(f"{address.rstrip('/')}/style")
            page.evaluate("document.fonts.ready")
            page.screenshot(path=IMAGES / f"studio-{look}.png", full_page=True)
        browser.close()


if __name__ == "__main__":
    main(*sys.argv[1:3])
