"""Makes the picture of a notice that README.md shows: `python -m demo.pictures`; it needs Debian's chromium.

The notice is the one that a first failure brings, on made-up facts, as a mail program shows it, with its picture below.
"""

from __future__ import annotations

import base64
import os
import shutil
import subprocess
import sys
import tempfile
from html import escape
from pathlib import Path

from sentinel.core.cases.kinds import NoticeKind
from sentinel.core.cases.records import Notice
from sentinel.render.notices import Form, Letters, every_sample
from sentinel.render.notices.samples import KEY

PLACE = Path(__file__).parent / "pictures" / "notice.png"
WIDTH = 720
PAGE = """<!doctype html><meta charset="utf-8"><style>
body {{ margin: 0; padding: 20px 24px; background: #fff; color: #111; font: 15px/1.45 sans-serif }}
header {{ border-bottom: 1px solid #ccc; margin-bottom: 14px; padding-bottom: 10px }}
img {{ width: 100%; margin-top: 12px }}
</style><header><strong>{title}</strong><br>to: colour lead</header>{body}<img src="data:image/png;base64,{picture}">"""


def page() -> str:
    """The mail as HTML."""
    facts = every_sample()["confirm-failure"]["a first failure"]
    letter = Letters().letter(Notice(KEY, NoticeKind.CONFIRM_FAILURE, "", 0, facts))
    told = letter.message(Form.HTML)
    picture = letter.picture()
    if picture is None:
        raise SystemExit("expected a notice with a picture, got none")
    return PAGE.format(title=escape(told.title), body=told.body, picture=base64.b64encode(picture).decode())


def photographed(html: str, browser: str, height: int) -> bytes:
    """The page as a PNG. Raises CalledProcessError."""
    with tempfile.TemporaryDirectory() as folder:
        source, picture = Path(folder) / "page.html", Path(folder) / "page.png"
        source.write_text(html, encoding="utf-8")
        alone = ["--no-sandbox"] if os.geteuid() == 0 else []
        command = [
            browser,
            "--headless",
            "--disable-gpu",
            "--hide-scrollbars",
            *alone,
            f"--user-data-dir={folder}/user",
        ]
        where = [f"--window-size={WIDTH},{height}", f"--screenshot={picture}", source.as_uri()]
        subprocess.run([*command, *where], check=True, capture_output=True, timeout=120)
        return picture.read_bytes()


def main() -> None:
    """Writes the picture."""
    browser = shutil.which("chromium")
    if browser is None:
        sys.exit("expected Debian's chromium: apt-get install chromium")
    height = int(sys.argv[1]) if len(sys.argv) > 1 else 2330
    PLACE.parent.mkdir(exist_ok=True)
    PLACE.write_bytes(photographed(page(), browser, height))


if __name__ == "__main__":
    main()
