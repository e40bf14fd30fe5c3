"""A master recalled from an unpacked archive, in a process of its own that knows nothing of where it was made."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from sweeper.errors import RecallMismatch, SweeperError

CODE = "import sys; from sweeper.cli.main import exit_code; sys.exit(exit_code(sys.argv[1:]))"


def proven(run: Path, variant: str, patience_s: float) -> Mapping[str, Any]:
    """Recall a variant from the run's folder with an empty store; what `recall --json` says of it.

    run: where the archive was unpacked; the new run goes beside it. Raises RecallMismatch when it is not what it was,
    and SweeperError with the process's words when it could not be made.
    """
    store = run.parent / "store"
    done = subprocess.run(
        [sys.executable, "-c", CODE, "recall", str(run / "variants" / variant), "--results", str(run.parent),
         "--patience", str(patience_s), "--json"],
        capture_output=True, text=True, encoding="utf-8", check=False, env={**os.environ, "SWEEPER_STORE": str(store)},
    )  # fmt: skip
    try:
        answer = json.loads(done.stdout)
    except ValueError as exc:
        raise SweeperError(f"variant {variant} cannot be recalled from the archive: {done.stderr.strip()[-500:]}",
                           "the archive was not kept; without --prove it is written all the same") from exc  # fmt: skip
    if "error" in answer:
        told = answer["error"]
        raise RecallMismatch(f"variant {variant} cannot be recalled from the archive: {told['what']}",
                             f"{told['remedy']}; the archive was not kept, and is without --prove")  # fmt: skip
    if done.returncode:
        raise RecallMismatch(f"variant {variant}, recalled from the archive, does not come out as it was",
                             "`sweeper recall` on the run itself says more; the archive was not kept, and is without "
                             "--prove")  # fmt: skip
    return dict(answer)
