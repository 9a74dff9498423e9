"""Use an installed ``evenhand`` in a folder outside of the repository: hear, write pages, serve.

    python scripts/use_installed.py COMMAND FOLDER

What a package may lack shows here: the player and the ear, type and templates of pages, database steps.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from urllib.request import urlopen

COMMANDS = (
    ("--version",),
    ("demo", "--out", "heard"),
    ("exercises", "generate", "--length", "4", "--value", "1/8", "--out", "book.txt"),
    ("sheet", "--book", "book.txt", "--tempo", "1/4=60", "--student", "Ines Okoro", "--out", "sheet.pdf"),
)
WRITTEN = ("heard", "book.txt", "sheet.pdf")


def use(command: str, folder: Path) -> None:
    """Run each command, and fail where one does."""
    for arguments in COMMANDS:
        subprocess.run([command, *arguments], cwd=folder, check=True, stdout=subprocess.DEVNULL)
    missing = [name for name in WRITTEN if not (folder / name).exists()]
    if missing:
        sys.exit(f"use_installed: not written: {', '.join(missing)}")


def serve(command: str, folder: Path) -> None:
    """Serve a new studio, ask whether it could keep a take, and end it."""
    surroundings = {**os.environ, "EVENHAND_PASSWORD": "many words of an invented studio"}
    asked = [command, "serve", "--data", "studio", "--port", "0"]
    server = subprocess.Popen(asked, cwd=folder, env=surroundings, stdout=subprocess.PIPE, text=True)
    try:
        said = server.stdout or ()
        address = next((line.split()[1] for line in said if line.startswith("  open  ")), "")
        if not address:
            sys.exit("use_installed: the studio did not say its address")
        for page in ("login", "static/studio.css"):
            with urlopen(f"{address}/{page}", timeout=60) as answer:  # noqa: S310 - this computer's own
                answer.read()
        with urlopen(f"{address}/ready", timeout=60) as answer:  # noqa: S310 - the same
            ready = json.load(answer)
        if ready != {"status": "ready", "lacks": []}:
            sys.exit(f"use_installed: {ready}")
    finally:
        server.terminate()
        if server.wait(timeout=60):
            sys.exit(f"use_installed: the studio ended with {server.returncode}")


if __name__ == "__main__":
    use(sys.argv[1], Path(sys.argv[2]))
    serve(sys.argv[1], Path(sys.argv[2]))
