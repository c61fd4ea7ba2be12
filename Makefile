# Two commands do all the set-up:  make demo  and  make test
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test check lint types imports spell test-long bench clean

$(VENV)/.ready: pyproject.toml tools/bootstrap.sh
	PYTHON=$(PYTHON) sh tools/bootstrap.sh $(VENV)
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/.test-ready: $(VENV)/.ready
	$(BIN)/python -m pip install --quiet --group test
	touch $@

$(VENV)/.bench-ready: $(VENV)/.test-ready
	$(BIN)/python -m pip install --quiet --group bench
	touch $@

demo: $(VENV)/.ready ## run the main job on the demo chart and say where the results lie
	$(BIN)/changewright demo --output quayside

test: check ## everything that must hold, in minutes
	$(BIN)/python -m pytest -m "not slow" --cov --cov-report=term

check: lint types imports spell

lint: $(VENV)/.test-ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.test-ready
	$(BIN)/mypy

imports: $(VENV)/.test-ready
	$(BIN)/lint-imports

spell: $(VENV)/.test-ready
	$(BIN)/codespell src tests benchmarks docs README.md CHANGELOG.md CONTRIBUTING.md

test-long: $(VENV)/.test-ready ## the longer suites: fuzzing, real audio, ten thousand lines
	$(BIN)/python -m pytest -m slow

bench: $(VENV)/.bench-ready ## figures, one a line, and benchmarks/latest.json
	$(BIN)/python -m benchmarks

clean:
	rm -rf $(VENV) build dist quayside .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage
