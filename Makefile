# Everything that a fresh machine needs: Python 3.11 or later with its venv module, and make.
# `make` alone lists what there is.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SOURCES := $(wildcard protocol_lang bench tests tools)
PIP := PIP_DISABLE_PIP_VERSION_CHECK=1 $(BIN)/python -m pip install --quiet --quiet

.PHONY: help demo test lint style types imports bench mistakes diagrams pictograms docs pins clean

help:
	@echo "make demo      set up, check a protocol, find a planted fault, print a wall chart"
	@echo "make test      set up, run the whole test suite"
	@echo "make lint      style, layout, types and direction of imports"
	@echo "make bench     measure speed and size"
	@echo "make mistakes  tell which published mistakes are found, and what good practice is told wrongly"
	@echo "make diagrams  draw the shipped protocols anew, into diagrams/"
	@echo "make pictograms  show all pictograms on one picture, into docs/"
	@echo "make docs      write anew what README.md and docs/ show of the program"
	@echo "make pins      write the exact versions in requirements/ anew"
	@echo "make clean     remove what the others made"
	@echo "Another Python: make test PYTHON=python3.12.  Some tests: make test TESTS=tests/order."

# ---- set-up: exact versions with hashes; two marks, since the demo needs less than the tests ----

define check_python
@command -v "$(PYTHON)" >/dev/null || { \
  echo 'There is no program "$(PYTHON)" here. Install Python 3.11 or later, or say where it is:' \
    'make PYTHON=/path/to/python3' >&2; exit 1; }
@"$(PYTHON)" -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
  echo '"$(PYTHON)" is older than Python 3.11, which is the least that works. Say where a newer' \
    'one is: make PYTHON=/path/to/python3' >&2; exit 1; }
@"$(PYTHON)" -c 'import ensurepip, venv' 2>/dev/null || { \
  echo '"$(PYTHON)" lacks its venv module. Some systems package it apart: on Debian and Ubuntu' \
    'install python3-venv; or say where another Python is: make PYTHON=/path/to/python3' >&2; \
  exit 1; }
endef

$(VENV)/ready-to-run: requirements/run.txt pyproject.toml setup.py
	$(check_python)
	@echo "Setting up $(VENV) ..."
	@"$(PYTHON)" -m venv $(VENV)
	@$(PIP) --require-hashes -r requirements/run.txt
	@$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/ready-to-test: requirements/all.txt $(VENV)/ready-to-run
	@echo "Adding what the tests and checks need ..."
	@$(PIP) --require-hashes -r requirements/all.txt
	@touch $@

# ---- for users ----------------------------------------------------------------------------------

demo: $(VENV)/ready-to-run
	@$(BIN)/python tools/demo.py

# ---- for contributors ---------------------------------------------------------------------------

TESTS ?= tests

test: $(VENV)/ready-to-test
	@echo "Running the tests: the whole suite takes up to 10 minutes on two cores."
	@$(BIN)/python -m pytest -n auto $(TESTS)

lint: style types imports

style: $(VENV)/ready-to-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/ready-to-test
	$(BIN)/mypy $(SOURCES)

imports: $(VENV)/ready-to-test
	$(BIN)/lint-imports --no-logo --no-cache

bench: $(VENV)/ready-to-test
	@$(BIN)/python -m bench

mistakes: $(VENV)/ready-to-test
	@$(BIN)/python -m tools.mistakes

diagrams: $(VENV)/ready-to-run
	@$(BIN)/python tools/diagrams.py

pictograms: $(VENV)/ready-to-test
	@$(BIN)/python -m tools.pictograms

docs: $(VENV)/ready-to-test
	@$(BIN)/python -m tools.line_table
	@$(BIN)/python -m tools.editors
	@$(BIN)/python -m tools.audit_form
	@$(BIN)/python -m tools.reference
	@$(BIN)/python -m tools.trade
	@$(BIN)/python -m tools.rules
	@$(BIN)/python -m tools.pictograms
	@$(BIN)/python -m tools.shown
	@$(BIN)/python -m tools.pictures

pins:
	$(check_python)
	@tools/pins.sh "$(PYTHON)"

clean:
	rm -rf $(VENV) build dist out *.egg-info .mypy_cache .pytest_cache .ruff_cache .hypothesis
