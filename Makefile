PYTHON ?= python3
BIN := .venv/bin

.PHONY: report test mutants bench bench-large check forget clean

report: .venv/installed
	$(BIN)/draincurve demo --out out/report

# Two processes for two cores: a second thread for matrices this small would only wait for them. What was compiled is
# kept, whatever the shell says, since collecting the tests takes twice as long without.
test: .venv/installed
	OPENBLAS_NUM_THREADS=1 PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest -n 2 --dist worksteal

mutants: .venv/installed
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[mutants]'
	$(BIN)/mutmut run --max-children 2 $(MUTANTS)
	$(BIN)/mutmut results

check: .venv/installed
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: .venv/installed
	$(BIN)/python -m tests.benchmarks

bench-large: .venv/installed
	$(BIN)/python -m tests.benchmarks.large_plans

.venv/installed: pyproject.toml constraints.txt
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[test]'
	touch $@

forget:
	find pipeline -name '*.nbi' -delete -o -name '*.nbc' -delete

clean: forget
	rm -rf .venv .venv-bench-* mutants out
