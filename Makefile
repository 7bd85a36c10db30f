PYTHON ?= .venv/bin/python
BIN := $(dir $(PYTHON))

.DEFAULT_GOAL := help
.PHONY: help check lint types contracts test slow lowest demo-data columns sample

help: ## what can be made
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | sed -E 's/^([a-z-]+):.*## /\1\t/' | expand -t 14

check: lint types contracts test ## all that must hold before anything lands

lint: ## format and lint
	$(BIN)ruff format --check .
	$(BIN)ruff check .

types: ## types, strictly
	$(BIN)mypy

contracts: ## which floor may know which
	$(BIN)lint-imports

test: ## the tests, about four minutes on two cores
	$(BIN)pytest -n auto --dist worksteal

slow: ## the long simulation studies, whose result tables are committed
	$(BIN)pytest -n auto -m slow

lowest: ## the tests with the lowest versions that the project file allows, in an environment of its own
	python3 -m venv .venv-lowest
	.venv-lowest/bin/pip install --quiet uv
	.venv-lowest/bin/uv pip compile --quiet --resolution lowest-direct --python-version 3.11 --extra dev --extra pdf \
		pyproject.toml --output-file .venv-lowest/lowest.txt
	.venv-lowest/bin/pip install --quiet -r .venv-lowest/lowest.txt
	.venv-lowest/bin/pip install --quiet --no-deps --editable .
	.venv-lowest/bin/pytest -n auto --dist worksteal

demo-data: ## the invented history, bit for bit
	$(PYTHON) -m wearstats.simulate.demo_files data/demo

columns: ## the list of all columns in data/README.md
	$(PYTHON) -m wearstats.report.words.columns data/README.md

sample: ## the report page of the demo, as it stands in reports/sample; made anew for a release
	$(PYTHON) -m wearstats demo --out reports/sample --force
	$(PYTHON) -m wearstats report --png --store reports/sample/demo.duckdb --as-of 2026-09-30 --out reports/sample/all --force
	mv reports/sample/all/charts/gap-risk.png reports/sample/gap-risk.png && rm -r reports/sample/all
