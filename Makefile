PYTHON ?= python3
BIN := .venv/bin

.PHONY: report picture test mutants bench bench-large check lock bill forget clean

report: .venv/installed
	$(BIN)/draincurve demo --out out/report

# The README's picture, from that report.
picture: report
	$(BIN)/python -m tests.reports.browser.readme_picture out/report/report.html docs/report.png

# Two processes for two cores: a second thread, for matrices or tables this small, would only wait for them. What was
# compiled is kept, whatever the shell says, since collecting the tests takes twice as long without.
test: .venv/installed
	OPENBLAS_NUM_THREADS=1 POLARS_MAX_THREADS=1 PYTHONDONTWRITEBYTECODE= $(BIN)/python -m pytest -n 2 --dist worksteal

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

# Pins with hashes for an install, without any address; and the bill of materials (CycloneDX) of what is in them.
lock: .venv-tools/installed
	.venv-tools/bin/uv pip compile --quiet --universal --generate-hashes --no-emit-index-url --no-annotate --no-header \
		--python-version 3.11 --extra postgresql --extra distributed --constraint constraints.txt pyproject.toml \
		--output-file locked.txt

bill: .venv-tools/installed
	mkdir -p out
	.venv-tools/bin/cyclonedx-py requirements locked.txt --of JSON --output-file out/bill.json
	@echo out/bill.json

.venv-tools/installed:
	$(PYTHON) -m venv .venv-tools
	.venv-tools/bin/python -m pip install --quiet --disable-pip-version-check uv==0.13.9 cyclonedx-bom==7.5.0
	touch $@

.venv/installed: pyproject.toml constraints.txt
	$(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --constraint constraints.txt --editable '.[test]'
	touch $@

forget:
	find pipeline -name '*.nbi' -delete -o -name '*.nbc' -delete

clean: forget
	rm -rf .venv .venv-bench-* .venv-tools mutants out
