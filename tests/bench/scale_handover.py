#!/usr/bin/python3
"""tests/e2e/handover_many.py with five hundred specimens and two thousand photos of 2 MB: 4 GB, of
which TMPDIR holds three copies for a while."""

import pathlib
import sys

sys.path.insert(0, str(pathlib.Path(__file__).resolve().parents[1] / "e2e"))
import handover_many  # noqa: E402

if __name__ == "__main__":
    sys.exit(handover_many.run(500, 2000, 830, 256, 8))
