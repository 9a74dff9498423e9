# make demo    hear an invented student's take, from a fresh clone, in one command; at a terminal, then open the studio
# make studio  open a demonstration of the studio in the browser: invented people, six weeks of takes
# make test    the tests, but for the browser's and the long ones
# make e2e     the tests in a real browser
# make deep    the tests with ten times as many examples, and the long ones
# make check   everything that must hold before a change goes in
# make fuzz    every entry that takes bytes or text from outside, each for FUZZ_MINUTES (0.2)
# make audit   the pinned packages against the advisories that are published of them; it asks the network
# make bench   our figures beside other libraries' on the same takes, and what is seen of sticks in films
# make load    five hundred simulated users over a compressed evening, ten minutes (proof/load.py)
# make drill   a school brought back to a moment, and one machine's studio from its backup: is all there again?
# make soak    takes arrive while all that can be killed is killed: is nothing lost, and nothing doubled? (proof/soak.py)
# make story   an invented student's six weeks, heard again and written to docs/story.md
# make pictures  the README's pictures, drawn again from the demonstration
# make clean   remove what these made
# Python 3.11 or later; another one than python3: make PYTHON=python3.12 demo

PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
PIP = $(BIN)/python -m pip --disable-pip-version-check

# Many tests start the command anew: each module is compiled once and kept, whatever the machine is set to.
export PYTHONDONTWRITEBYTECODE :=

# Three at a time on two cores, since some wait; a file's tests together: what a file sets up is set up once.
WORKERS ?= 3
PYTEST = $(BIN)/python -m pytest
SHARED = --numprocesses $(WORKERS) --dist loadfile --ignore tests/e2e

# In browsers most of the time goes by while something plays, so there are more at a time than cores; each has a
# browser and a server of its own, and takes the next test when it is done with one.
BROWSERS ?= 4
IN_BROWSERS = tests/e2e --numprocesses $(BROWSERS) --dist load --maxschedchunk 1

.PHONY: help demo studio test e2e deep check static format bench coverage drill load soak story pictures clean

help:
	@sed -n -e '/^$$/q' -e 's/^# //p' Makefile

demo: $(VENV)/ready-to-run
	$(BIN)/evenhand demo --out demo-out
	@if [ -t 0 ] && [ -t 1 ] && [ -z "$$CI" ]; then $(MAKE) --no-print-directory studio; \
	else echo "The studio itself, with invented students: make studio"; fi

studio: $(VENV)/ready-to-run
	$(BIN)/evenhand serve --demo --data demo-out/studio

test: $(VENV)/ready-to-build
	$(PYTEST) $(SHARED) -m "not deep"

e2e: $(VENV)/ready-to-build
	$(PYTEST) $(IN_BROWSERS)

deep: $(VENV)/ready-to-build
	EVENHAND_LAWS=deep $(PYTEST) $(SHARED)

check: static test e2e

static: $(VENV)/ready-to-build
	$(BIN)/ruff format --check
	$(BIN)/ruff check
	$(BIN)/mypy

format: $(VENV)/ready-to-build
	$(BIN)/ruff check --fix --exit-zero
	$(BIN)/ruff format

FUZZ_MINUTES ?= 0.2
fuzz: $(VENV)/ready-to-fuzz
	$(BIN)/python -m tests.fuzz --minutes $(FUZZ_MINUTES)

# Strict: a package that nothing could be learnt of is no package without advisories.
audit: $(VENV)/ready-to-fuzz
	for pins in constraints*.txt; do $(BIN)/pip-audit --strict --disable-pip --require-hashes -r $$pins || exit 1; done

coverage: $(VENV)/ready-to-build
	$(PYTEST) --ignore tests/e2e --cov --cov-report=term

bench: $(VENV)/ready-to-build
	$(BIN)/python -m benchmarks
	$(BIN)/python -m benchmarks.watching --films 1

load: $(VENV)/ready-to-load
	$(BIN)/python -m proof.load

drill: $(VENV)/ready-to-build
	$(BIN)/python -m proof.drill

soak: $(VENV)/ready-to-build
	$(BIN)/python -m proof.soak

story: $(VENV)/ready-to-run
	$(BIN)/python scripts/tell_story.py docs

pictures: $(VENV)/ready-to-build
	$(BIN)/python scripts/draw_pages.py

clean:
	rm -rf $(VENV) demo-out bench-out fuzz-out build dist htmlcov .coverage
	rm -rf .pytest_cache .mypy_cache .ruff_cache .import_linter_cache .hypothesis
	find src tests -name __pycache__ -type d -prune -exec rm -rf {} +

# The pins are everything that is needed, so nothing is looked up beside them (--no-deps): what is published
# later cannot change what a clone installs. Each file is checked against its hash; Evenhand itself is then put
# in without fetching, and pip says whether all that is needed is there.
$(VENV)/ready-to-run: constraints.txt pyproject.toml $(VENV)/made
	$(call install,constraints.txt)
	@touch $@

$(VENV)/ready-to-build: constraints-dev.txt pyproject.toml $(VENV)/made
	$(call install,constraints-dev.txt)
	@touch $@

$(VENV)/ready-to-load: constraints-load.txt $(VENV)/ready-to-build
	$(PIP) install --quiet --no-compile --no-deps --require-hashes -r constraints-load.txt
	@touch $@

$(VENV)/ready-to-fuzz: constraints-security.txt $(VENV)/ready-to-build
	$(call install,constraints-security.txt)
	@touch $@

define install
$(PIP) install --quiet --no-compile --no-deps --require-hashes -r $(1)
$(PIP) install --quiet --no-compile --no-deps --no-build-isolation --editable .
$(PIP) check
endef

$(VENV)/made:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Evenhand needs Python 3.11 or later. Name one: make PYTHON=python3.12 demo" >&2; exit 1; }
	@$(PYTHON) -c 'import ensurepip, venv' 2>/dev/null || \
		{ echo "$(PYTHON) cannot make environments. On Debian: apt install python3-venv" >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)
	@touch $@
