"""The room stands by itself: it knows nothing of how a piece is laid out, printed or checked."""

from __future__ import annotations

import subprocess
import sys


def test_the_rules_import_nothing_of_layout_press_or_checker() -> None:
    script = (
        "import sys\n"
        "from labeler.disclosures import needed, sale, wording\n"
        "print(*sorted(name for name in sys.modules if name.startswith('labeler.')))"
    )
    done = subprocess.run(
        [sys.executable, "-c", script], capture_output=True, text=True, check=True
    )
    rooms = {name.split(".")[1] for name in done.stdout.split()}
    assert rooms == {"catalog", "disclosures", "files", "findings", "tomlfile", "units"}
