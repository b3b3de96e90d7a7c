"""Let the files of this folder import each other by name, as they do when run as a script."""

import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))
