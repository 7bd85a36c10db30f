# One command for everything that must hold: make check
PYTHON ?= .venv/bin/python
BIN := $(dir $(PYTHON))

.PHONY: check lint types contracts test slow demo-data sample

check: lint types contracts test

lint:
	$(BIN)ruff format --check .
	$(BIN)ruff check .

types:
	$(BIN)mypy

contracts:
	$(BIN)lint-imports

test:
	$(BIN)pytest -n auto --dist worksteal

# the long simulation studies, whose result tables are committed
slow:
	$(BIN)pytest -n auto -m slow

# the invented history, bit for bit
demo-data:
	$(PYTHON) -m wearstats.simulate.demo_files data/demo

# the report page of the demo, as it stands in reports/sample
sample:
	$(PYTHON) -m wearstats demo --out reports/sample --force
