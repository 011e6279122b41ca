import sys
from pathlib import Path

# The invented results are shared by the tests of this folder.
sys.path.insert(0, str(Path(__file__).parent))
