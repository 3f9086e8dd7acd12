# Every task of the project. CI calls these and nothing else.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: demo test lint types contract tests docs docs-check bench pins clean

demo: $(VENV)/.run
	@$(BIN)/tapedown demo
	@echo
	@if [ -t 1 ]; then $(BIN)/tapedown -n marrow-fen office --tour; \
	else $(BIN)/tapedown -n marrow-fen office --only-check; fi

test: lint types contract docs-check tests

lint: $(VENV)/.dev
	$(BIN)/ruff check src tests bench docs
	$(BIN)/ruff format --check src tests bench docs

types: $(VENV)/.dev
	$(BIN)/mypy

contract: $(VENV)/.dev
	$(BIN)/lint-imports

tests: $(VENV)/.dev
	$(BIN)/python -m pytest -q -n auto --dist worksteal

docs: $(VENV)/.dev
	$(BIN)/python docs/generate.py

docs-check: $(VENV)/.dev
	$(BIN)/python docs/generate.py --check

bench: $(VENV)/.dev
	$(BIN)/python -m bench.run

pins: $(VENV)/.dev
	$(PIP) uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--extra shared --extra formats --extra notebook pyproject.toml -o requirements/run.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--extra shared --extra formats --extra notebook --extra validators --extra dev -c requirements/run.txt pyproject.toml -o requirements/dev.txt

clean:
	rm -rf $(VENV) build dist

$(BIN)/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/.run: requirements/run.txt requirements/build.txt pyproject.toml | $(BIN)/python
	$(PIP) --require-hashes -r requirements/build.txt
	$(PIP) --require-hashes -r requirements/run.txt
	$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.dev: requirements/dev.txt $(VENV)/.run
	$(PIP) --require-hashes -r requirements/dev.txt
	@touch $@
