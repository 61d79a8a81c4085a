# Two commands for everyone (demo, test); the others are for those who change the program.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
WORKBENCH := src/earwitness/workbench

.PHONY: demo serve test check bundle long format clean

demo: $(VENV)/.installed
	$(BIN)/earwitness demo --out demo

serve: bundle
	$(BIN)/earwitness serve --ledger $(or $(LEDGER),site.ledger)

test: $(VENV)/.installed-dev check bundle
	$(BIN)/python -m pytest -n auto

check: $(VENV)/.installed-dev
	$(BIN)/ruff check src tests benchmarks tools fitting
	$(BIN)/ruff format --check src tests benchmarks tools fitting
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

bundle: $(WORKBENCH)/static/built

# Node comes from the machine, else from PyPI into the virtual environment; the packages are pinned in package.json.
$(WORKBENCH)/static/built: package.json $(wildcard $(WORKBENCH)/browser/* $(WORKBENCH)/browser/*/*) | $(VENV)/.installed
	$(BIN)/python tools/bundle_browser.py

# What takes longer than a test may: run by hand before a release.
long: $(VENV)/.installed-dev
	$(BIN)/python benchmarks/hearing.py
	$(BIN)/python benchmarks/second_generator.py --count 100
	$(BIN)/python benchmarks/second_generator_machines.py
	for kind in leak seal bearing electrical gear valve trap other; do \
	  $(BIN)/python -m benchmarks.examiner build/examined/$$kind --kind $$kind --count 60 --seed 1 && \
	  $(BIN)/python -m benchmarks.examiner score build/examined/$$kind || exit 1; done
	$(BIN)/python benchmarks/fitness.py 1000
	$(BIN)/python benchmarks/fuzz_audio.py 3600
	$(BIN)/python benchmarks/kill.py
	$(BIN)/python benchmarks/ledger.py
	$(BIN)/python benchmarks/survey_speed.py
	$(BIN)/python benchmarks/survey_speed.py --two-hours

format: $(VENV)/.installed-dev
	$(BIN)/ruff check --fix src tests benchmarks tools fitting
	$(BIN)/ruff format src tests benchmarks tools fitting

$(BIN)/pip:
	$(PYTHON) -m venv $(VENV)

# The stamps are older than pyproject.toml exactly when something must be installed.
$(VENV)/.installed: pyproject.toml | $(BIN)/pip
	$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[phone]'
	touch $@

$(VENV)/.installed-dev: $(VENV)/.installed
	$(BIN)/pip install --quiet --disable-pip-version-check --upgrade 'pip>=25.1'
	$(BIN)/pip install --quiet --disable-pip-version-check --group dev
	touch $@

clean:
	rm -rf $(VENV) demo build dist node_modules $(WORKBENCH)/static .pytest_cache .mypy_cache .ruff_cache
