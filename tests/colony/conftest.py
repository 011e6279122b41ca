import sys
from pathlib import Path

# The colony files are shared by the tests of this folder.
sys.path.insert(0, str(Path(__file__).parent))
