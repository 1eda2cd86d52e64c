"""`python -m rheokit`."""

import sys

from rheokit.cli import main

sys.exit(main())
