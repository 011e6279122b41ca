# One word each; every one works from a fresh clone with Python 3.11 to 3.13, make and a package index.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# uv is used for speed where it stands on the path; pip otherwise.
UV := $(shell command -v uv 2>/dev/null)
ifdef UV
INSTALL := $(UV) pip install --quiet --python $(BIN)/python
else
INSTALL := $(BIN)/python -m pip install --quiet --disable-pip-version-check
endif
# Workers of pytest.
N ?= 2

.PHONY: help demo test coverage mutants lint docs bench lock inventory audit clean

help:
	@echo "make demo    prove the shipped example and draw it"
	@echo "make test    every test"
	@echo "make coverage  branches of both hearts that tests take (docs/tests.md)"
	@echo "make mutants faults put into physics and kernels, one at a time (docs/tests.md)"
	@echo "make lint    style, types, import directions"
	@echo "make docs    pictures and pages that are made by the program"
	@echo "make bench   speed against reference solvers (docs/speed.md)"
	@echo "make lock    resolve the lock files anew (needs uv)"
	@echo "make inventory  what is inside, as CycloneDX, to out/inventory.cdx.json"
	@echo "make audit   known weaknesses of what is inside (asks the package index)"
	@echo "make clean   remove the environment and what tools left behind"

# The stamp is newer than everything that decides what is installed, so a second call costs nothing.
$(VENV)/run.stamp: requirements.lock pyproject.toml
	@$(PYTHON) -c "import sys; v = sys.version_info[:2]; sys.exit(0 if (3, 11) <= v <= (3, 13) else 'Python 3.11 to 3.13 is needed, this is %d.%d; try make PYTHON=python3.12' % v)"
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@echo "installing into $(VENV)"
	@$(INSTALL) --require-hashes -r requirements.lock
	@$(INSTALL) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/dev.stamp: requirements-dev.lock $(VENV)/run.stamp
	@echo "installing what the tests need"
	@$(INSTALL) --require-hashes -r requirements-dev.lock
	@touch $@

demo: $(VENV)/run.stamp
	@$(BIN)/nestwright demo out/demo --force

# The pages are tested in a real Chromium: the system's, or Debian's package, or the one that playwright brings.
$(VENV)/browser.stamp: $(VENV)/dev.stamp
	@command -v chromium chromium-browser google-chrome >/dev/null \
	  || { [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null && apt-get update -qq && apt-get install -qq -y chromium >/dev/null; } \
	  || $(BIN)/python -m playwright install chromium
	@touch $@

test: $(VENV)/browser.stamp
	$(BIN)/python -m pytest -n $(N) --dist worksteal

# Compiled code has no lines to count or to change: what the kernels do is taken from these tests, run uncompiled.
PLAIN := tests/physics tests/network/test_handbook.py tests/network/test_kernel.py tests/network/test_published.py \
  tests/network/test_structure.py tests/network/test_integrate.py tests/network/test_events.py \
  tests/network/test_rest_from_near.py \
  tests/colony/test_numpy_colony.py tests/colony/test_numbers.py tests/colony/test_likelihood.py tests/colony/test_days.py
# Of them, those that take longer than they tell when they are not compiled.
LONG := soil or looser or balances_close or below_zero or rest_is or order_of_the_chambers or cut_in_two or chunks \
  or thermostat or runs_low or interval or more_leaves_never or order_of_independent or 1000000 or longer_absence \
  or (test_the_step and (cephalotes or sexdens or colombica or echinatior or versicolor or septen))
COUNTED := --branch --include='src/nestwright/network/*,src/nestwright/colony/*' --parallel-mode
FAULTS ?= 300
# What became of each fault; a run that was stopped goes on from there. FROM leaves out the first of the draw.
KEPT ?= out/faults.tsv
FROM ?= 0

coverage: $(VENV)/browser.stamp
	$(BIN)/coverage erase
	PYTHONPATH=studies $(BIN)/coverage run $(COUNTED) -m pytest -p plain_kernels $(PLAIN) -k "not ($(LONG))"
	$(BIN)/coverage run $(COUNTED) -m pytest tests/network tests/colony tests/habitat tests/climate
	$(BIN)/coverage combine
	$(BIN)/coverage report --skip-covered --show-missing

mutants: $(VENV)/dev.stamp
	@mkdir -p $(dir $(KEPT))
	PYTHONPATH=studies $(BIN)/python -m pytest -s -p mutants --faults $(FAULTS) --seed 9 --from $(FROM) --kept $(KEPT) \
	  $(PLAIN) -k "not ($(LONG) or large_colonies or never_negative) \
	  and (not test_integrate or order_of_the_method or filling_up)"

lint: $(VENV)/dev.stamp
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

docs: $(VENV)/browser.stamp
	$(BIN)/python docs/make_commands.py
	$(BIN)/python docs/make_api.py
	$(BIN)/python docs/make_words.py
	$(BIN)/python docs/make_fault_words.py
	$(BIN)/python docs/make_record.py
	$(BIN)/python docs/make_figures.py
	$(BIN)/python docs/make_pages.py

bench: $(VENV)/dev.stamp
	$(BIN)/python -m benchmarks

lock:
	uv pip compile pyproject.toml --all-extras --group build --universal --fork-strategy fewest --python-version 3.11 --generate-hashes --no-header -q -o requirements.lock
	uv pip compile pyproject.toml --all-extras --group build --group dev -c requirements.lock --universal --fork-strategy fewest --python-version 3.11 --generate-hashes --no-header -q -o requirements-dev.lock

inventory: $(VENV)/dev.stamp
	@$(BIN)/python docs/make_inventory.py out/inventory.cdx.json

audit: $(VENV)/dev.stamp
	$(BIN)/pip-audit --requirement requirements.lock --no-deps --disable-pip --strict

clean:
	rm -rf $(VENV) out dist build .coverage* .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
