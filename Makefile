# Two commands do all the set-up:  make demo  and  make test
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin

.PHONY: demo test check lint types imports spell test-long modules test-browser test-longest explore bench clean

$(VENV)/.ready: pyproject.toml tools/bootstrap.sh
	PYTHON=$(PYTHON) sh tools/bootstrap.sh $(VENV)
	$(BIN)/python -m pip install --quiet --editable .
	touch $@

$(VENV)/.test-ready: $(VENV)/.ready
	$(BIN)/python -m pip install --quiet --group test
	touch $@

$(VENV)/.bench-ready: $(VENV)/.test-ready tools/sung.sh
	$(BIN)/python -m pip install --quiet --group bench
	sh tools/sung.sh $(VENV)
	touch $@

demo: $(VENV)/.ready ## run the main job on the demo chart and say where the results lie
	$(BIN)/changewright demo --output quayside

test: check ## everything that must hold, in minutes
	$(BIN)/python -m pytest -m "not slow and not longest" -n 2 --dist loadgroup --cov --cov-report=term

check: lint types imports spell

lint: $(VENV)/.test-ready
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

types: $(VENV)/.test-ready
	$(BIN)/mypy

imports: $(VENV)/.test-ready
	$(BIN)/lint-imports

spell: $(VENV)/.test-ready
	$(BIN)/codespell src tests benchmarks docs tools README.md CHANGELOG.md CONTRIBUTING.md

$(VENV)/.services-ready: $(VENV)/.test-ready tools/postgresql.sh tools/browser.sh tools/nginx.sh tools/sung.sh
	sh tools/postgresql.sh
	sh tools/browser.sh $(VENV)
	sh tools/nginx.sh
	sh tools/sung.sh $(VENV)
	touch $@

test-long: $(VENV)/.services-ready ## the longer suites: fuzzing, real audio, a real server, the wheel
	CHANGEWRIGHT_NEEDS_POSTGRESQL=1 CHANGEWRIGHT_NEEDS_NGINX=1 $(BIN)/python -m pytest -m slow --ignore tests/browser

modules: $(VENV)/.services-ready ## the types of the studio's own modules
	sh tools/check_modules.sh

test-browser: $(VENV)/.services-ready ## the studio in a real browser
	CHANGEWRIGHT_BROWSER=1 $(BIN)/python -m pytest -m slow tests/browser

test-longest: $(VENV)/.services-ready ## ten thousand sheets, guided fuzzing, two hours of band
	$(BIN)/python -m pytest -m longest

explore: $(VENV)/.test-ready ## the laws again, on examples never tried before
	CHANGEWRIGHT_EXAMPLES=exploring $(BIN)/python -m pytest -m "not slow and not longest" -n 2 tests/laws tests/fuzz

bench: $(VENV)/.bench-ready ## figures, one a line, and benchmarks/latest.json
	$(BIN)/python -m benchmarks

clean:
	rm -rf $(VENV) build dist quayside .mypy_cache .ruff_cache .pytest_cache .hypothesis .coverage
