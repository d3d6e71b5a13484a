# Two commands do everything on a fresh machine:
#   make demo   the main job on the built-in example: checked, dossier printed
#   make test   everything that must hold before a change lands
# Each sets up what it needs: virtual environment, pinned libraries, Pango.

PYTHON  ?= python3
VENV    := .venv
RUN     := $(VENV)/bin
STAMP   := $(VENV)/.set-up
DEMO    := out/demo
PDF     := out/marram-hood-dossier.pdf

.PHONY: demo test bench docs format lint types floors unit wheel clean set-up

set-up: $(STAMP)

$(STAMP): pyproject.toml .ci/constraints.txt .ci/system-libraries
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "riskkit needs Python 3.11 or newer; name one with: make $(MAKECMDGOALS) PYTHON=python3.12"; exit 1; }
	@bash .ci/system-libraries
	@echo "setting up the virtual environment"
	@test -x $(RUN)/python || $(PYTHON) -m venv $(VENV)
	@$(RUN)/python -m pip install --quiet --disable-pip-version-check --constraint .ci/constraints.txt --editable '.[dev]'
	@$(RUN)/python -m compileall -q riskkit
	@touch $(STAMP)

demo: $(STAMP)
	@rm -rf $(DEMO) && mkdir -p out
	@$(RUN)/riskkit new --example hood $(DEMO)
	@$(RUN)/riskkit check $(DEMO) || test $$? -eq 1
	@echo "printing the dossier"
	@$(RUN)/riskkit dossier $(DEMO) --output $(PDF)

test: $(STAMP) lint types floors unit wheel
	@echo "everything holds"

lint:
	@echo "format and lint"
	@$(RUN)/ruff format --check --quiet riskkit tests docs
	@$(RUN)/ruff check --quiet riskkit tests docs

types:
	@echo "types"
	@$(RUN)/mypy

floors:
	@echo "floors"
	@$(RUN)/lint-imports --no-logo 2>&1 | grep -v '^$$' | tail -n 12; exit $${PIPESTATUS[0]}

unit:
	@echo "tests"
	@$(RUN)/python -m pytest --numprocesses 2 --cov --cov-report=term:skip-covered --quiet

wheel:
	@echo "wheel, tried in an empty environment"
	@bash .ci/try-wheel $(RUN)/python

docs: $(STAMP)
	@$(RUN)/python docs/write_reference.py

bench: $(STAMP)
	@$(RUN)/python -m compileall -q riskkit
	@$(RUN)/python tests/bench/bench_start.py
	@$(RUN)/python tests/bench/bench_reading.py
	@$(RUN)/python tests/bench/bench_paper.py

format: $(STAMP)
	@$(RUN)/ruff format --quiet riskkit tests docs
	@$(RUN)/ruff check --quiet --fix riskkit tests docs

clean:
	@rm -rf $(VENV) out build dist .coverage .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache

SHELL := /bin/bash
