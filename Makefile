# Two commands do everything on a fresh machine:
#   make demo   the main job on the built-in example: checked, dossier printed
#   make test   everything that must hold before a change lands
# Each sets up what it needs: virtual environment, pinned libraries, Pango. After that no network is needed.

SHELL   := /bin/bash
PYTHON  ?= python3
VENV    := .venv
RUN     := $(VENV)/bin
STAMP   := $(VENV)/.set-up
PIP     := $(RUN)/python -m pip
PINNED  := --quiet --disable-pip-version-check --constraint .ci/constraints.txt
DEMO    := out/demo
PDF     := out/marram-hood-dossier.pdf

.PHONY: demo test bench docs format lint types floors unit wheel clean set-up

set-up: $(STAMP)

# The build backends are installed first and used as they stand, so that they are pinned like everything else.
$(STAMP): pyproject.toml .ci/constraints.txt .ci/system-libraries
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "riskkit needs Python 3.11 or newer; name one with: make $(MAKECMDGOALS) PYTHON=python3.12"; exit 1; }
	@bash .ci/system-libraries $(PYTHON)
	@echo "setting up the virtual environment"
	@$(RUN)/python -m pip --version >/dev/null 2>&1 || $(PYTHON) -m venv --clear $(VENV)
	@$(PIP) install $(PINNED) hatchling editables setuptools
	@$(PIP) install $(PINNED) --no-build-isolation --editable '.[dev]'
	@echo "keeping the libraries for the trial of the wheel"
	@rm -rf $(VENV)/wheels && $(PIP) wheel $(PINNED) --no-build-isolation --wheel-dir $(VENV)/wheels . && rm $(VENV)/wheels/riskkit-*
	@$(RUN)/python -m compileall -q riskkit
	@touch $(STAMP)

# What somebody changed in the copy is theirs: it is checked and printed as it is.
demo: $(STAMP)
	@if [ -d $(DEMO) ] && ! diff -rq catalogs/examples/hood $(DEMO) >/dev/null; then \
	    echo "$(DEMO) was changed and is taken as it is; remove it to begin with the built-in demo again"; \
	else rm -rf $(DEMO) && mkdir -p out && $(RUN)/riskkit new --example hood $(DEMO); fi
	@$(RUN)/riskkit check $(DEMO) || test $$? -eq 1
	@echo "printing the dossier"
	@$(RUN)/riskkit dossier $(DEMO) --output $(PDF)

test: lint types floors wheel unit
	@echo "everything holds"

lint: $(STAMP)
	@echo "format and lint"
	@$(RUN)/ruff format --check --quiet riskkit tests docs
	@$(RUN)/ruff check --quiet riskkit tests docs

types: $(STAMP)
	@echo "types"
	@$(RUN)/mypy

floors: $(STAMP)
	@echo "floors"
	@set -o pipefail; $(RUN)/lint-imports 2>&1 | grep -v '^$$' | tail -n 12

wheel: $(STAMP)
	@echo "wheel, tried in an empty environment"
	@bash .ci/try-wheel $(RUN)/python $(VENV)/wheels

unit: $(STAMP)
	@echo "tests, and the pages of docs/reference compared with the code"
	@$(RUN)/python -m pytest --numprocesses auto --cov --cov-report=term:skip-covered --quiet

docs: $(STAMP)
	@echo "writing docs/reference"
	@$(RUN)/python docs/write_reference.py

bench: $(STAMP)
	@$(RUN)/python -m compileall -q riskkit
	@$(RUN)/python tests/bench/bench_start.py
	@$(RUN)/python tests/bench/bench_evidence.py
	@$(RUN)/python tests/bench/bench_models.py
	@$(RUN)/python tests/bench/bench_faults.py
	@$(RUN)/python tests/bench/bench_traces.py
	@$(RUN)/python tests/bench/bench_readiness.py
	@$(RUN)/python tests/bench/bench_editing.py
	@$(RUN)/python tests/bench/bench_reading.py
	@$(RUN)/python tests/bench/bench_paper.py

format: $(STAMP)
	@echo "formatting"
	@$(RUN)/ruff format --quiet riskkit tests docs
	@$(RUN)/ruff check --quiet --fix riskkit tests docs

clean:
	@echo "removing the environment, out and all caches"
	@rm -rf $(VENV) out build dist .coverage .coverage.* .mypy_cache .ruff_cache .pytest_cache .hypothesis .import_linter_cache
