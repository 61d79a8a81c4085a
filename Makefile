# Two commands for everyone (demo, test); the others are for those who change the program.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test check format clean

demo: $(VENV)/.installed
	$(BIN)/earwitness demo --out demo

test: $(VENV)/.installed-dev check
	$(BIN)/python -m pytest -n auto

check: $(VENV)/.installed-dev
	$(BIN)/ruff check src tests benchmarks fitting
	$(BIN)/ruff format --check src tests benchmarks fitting
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache

format: $(VENV)/.installed-dev
	$(BIN)/ruff check --fix src tests benchmarks fitting
	$(BIN)/ruff format src tests benchmarks fitting

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
	rm -rf $(VENV) demo build dist .pytest_cache .mypy_cache .ruff_cache
