# Every task of the project. CI calls these and nothing else.
PYTHON ?= python3
VENV   ?= .venv
BIN    := $(VENV)/bin
PIP    := $(BIN)/python -m pip install --quiet --disable-pip-version-check

.PHONY: demo test lint types contract tests docs docs-check bench mutants pins clean

demo: $(VENV)/.run
	@$(BIN)/tapedown demo
	@echo
	@if [ -t 1 ]; then $(BIN)/tapedown -n marrow-fen office --tour; \
	else $(BIN)/tapedown -n marrow-fen office --only-check; fi

test: lint types contract docs-check tests

lint: $(VENV)/.dev
	$(BIN)/ruff check src tests bench docs
	$(BIN)/ruff format --check src tests bench docs
	$(BIN)/pydoclint --quiet --config pyproject.toml $(addprefix src/tapedown/,values engine loggers analysis)

types: $(VENV)/.dev
	$(BIN)/mypy

contract: $(VENV)/.dev
	$(BIN)/lint-imports

tests: $(VENV)/.dev
	$(BIN)/python -m pytest -q -n auto --dist worksteal $(MOST)

docs: $(VENV)/.dev
	$(BIN)/python docs/generate.py

docs-check: $(VENV)/.dev
	$(BIN)/python docs/generate.py --check

bench: $(VENV)/.dev
	$(BIN)/python -m bench.run

# Faults put into one room by mutmut, and which of them its tests let pass: a random sample, the same at every call.
# Hours for a whole room (SAMPLE=99999). Broken off, it goes on where it was; changed tests try what they let pass again.
ROOM    ?= loggers
SAMPLE  ?= 300
MUTANTS := build/mutants/$(ROOM)
MUTMUT  := $(abspath $(BIN))/mutmut

mutants: $(VENV)/.mutants
	@mkdir -p $(MUTANTS)
	@cp -a src tests docs bench README.md CHANGES.md CONTRIBUTING.md $(MUTANTS)
	@sed 's/ROOM/$(ROOM)/g' bench/mutants.toml | cat pyproject.toml - > $(MUTANTS)/pyproject.toml
	@cd $(MUTANTS) && { test -s every || { $(MUTMUT) run none > making.log 2>&1; \
		$(MUTMUT) results --all true | sed -n 's/^ *\(tapedown.*\): .*/\1:/p' | sort > every; }; test -s every; }
	@cd $(MUTANTS) && shuf -n $(SAMPLE) --random-source=$(CURDIR)/LICENSE every > sample
	@cd $(MUTANTS) && $(MUTMUT) results --all true | grep -Ff sample | sed -n '/: killed$$/!s/^ *\(.*\): .*/\1/p' \
		| xargs --no-run-if-empty $(MUTMUT) run --max-children 2 > trying.log
	@cd $(MUTANTS) && $(MUTMUT) results --all true | grep -Ff sample | sed 's/^ *//' | sort > outcome
	@grep -v ': killed$$' $(MUTANTS)/outcome; echo; \
		echo "$(ROOM): $$(grep -c ': killed$$' $(MUTANTS)/outcome) killed of $$(wc -l < $(MUTANTS)/sample) tried," \
		"of $$(wc -l < $(MUTANTS)/every) in all; look at one: cd $(MUTANTS) && $(MUTMUT) show NAME"

pins: $(VENV)/.dev
	$(PIP) uv
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--extra shared --extra formats --extra notebook pyproject.toml -o requirements/run.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--extra shared --extra formats --extra notebook --extra validators --extra dev -c requirements/run.txt pyproject.toml -o requirements/dev.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		--extra mutants -c requirements/run.txt -c requirements/dev.txt pyproject.toml -o requirements/mutants.txt
	$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-emit-index-url --no-header \
		requirements/pip.in -o requirements/pip.txt

clean:
	rm -rf $(VENV) build dist

# Debian keeps the part that brings pip into an environment in a package of its own (python3-venv). Without that part the
# pip of the system puts one in; without either, one line says what to install.
$(BIN)/python:
	@if $(PYTHON) -c "import ensurepip" 2>/dev/null; then $(PYTHON) -m venv $(VENV); \
	elif $(PYTHON) -m pip --version >/dev/null 2>&1; then $(PYTHON) -m venv --without-pip $(VENV) \
		&& $(PYTHON) -m pip --python $@ install --quiet --disable-pip-version-check \
			--require-hashes -r requirements/pip.txt; \
	else echo "$(PYTHON) cannot make an environment: apt-get install --no-install-recommends make python3 python3-pip" >&2; false; fi \
	|| { rm -rf $(VENV); false; }

$(VENV)/.run: requirements/run.txt requirements/build.txt pyproject.toml | $(BIN)/python
	$(PIP) --require-hashes -r requirements/build.txt
	$(PIP) --require-hashes -r requirements/run.txt
	$(PIP) --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/.dev: requirements/dev.txt $(VENV)/.run
	$(PIP) --require-hashes -r requirements/dev.txt
	@touch $@

$(VENV)/.mutants: requirements/mutants.txt $(VENV)/.dev
	$(PIP) --require-hashes -r requirements/mutants.txt
	@touch $@
