"""`diff`: two git revisions in risk words."""

from __future__ import annotations

import json
from pathlib import Path

from riskkit.cli.opening import day, one_of, print_text, width
from riskkit.cli.output import counted, wrapped
