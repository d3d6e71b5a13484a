"""`python -m riskkit` does what `riskkit` does."""

from riskkit.cli import main

main()
