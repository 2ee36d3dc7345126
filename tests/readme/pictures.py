"""The pictures of the README, from pages of the worked example: `python tests/readme/pictures.py`."""

from __future__ import annotations

import base64
import re
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).parent
WANTED = {
    "gaps.svg": ("fill part.toml --zone web --html page.html", "page.html", "web: hot gaps"),
    "coupons.svg": ("report batch.toml --out kept", "kept/report.html", "fiber volume, zone web"),
}
"""Picture -> the command that writes its page, the page, and how the words of the picture begin."""


def pictures() -> dict[str, str]:
    """Each picture as SVG."""
    found = {}
    with tempfile.TemporaryDirectory() as folder:
        for command in ("example .", *(command for command, _, _ in WANTED.values())):
            call = [sys.executable, "-m", "laminate", *command.split()]
            subprocess.run(call, cwd=folder, check=True, capture_output=True)
        for name, (_, page, begins) in WANTED.items():
            text = (Path(folder) / page).read_text("utf-8")
            image = re.search(rf'src="data:image/svg\+xml;base64,([^"]+)" alt="{re.escape(begins)}', text)
            assert image is not None, name
            found[name] = base64.b64decode(image[1]).decode("utf-8")
    return found


if __name__ == "__main__":
    for name, svg in pictures().items():
        (HERE / name).write_text(svg, "utf-8")
        print(f"written: {HERE / name}")
