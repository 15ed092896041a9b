# aerialwright: everything from a fresh clone with Python 3.11+ and make. `make help` lists the targets.
SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
.ONESHELL:
.DEFAULT_GOAL := help
MAKEFLAGS += --no-print-directory

VENV := .venv
BIN := $(VENV)/bin
CODE := src tests benchmarks
PYTEST_ARGS ?=
BENCH_ARGS ?=

.PHONY: help setup demo test tables lint format bench lock clean

help: ## this list
	@sed -n 's/^\([a-z]*\):.*## /\1\t/p' Makefile | while IFS=$$'\t' read -r name text; do printf '  make %-8s %s\n' "$$name" "$$text"; done

# The stamp holds a digest of what the environment was made from, and where: a copied or outdated one is redone.
setup: ## create or renew .venv from requirements.lock (does nothing when it is up to date)
	@key="$$(cat requirements.lock pyproject.toml | sha256sum | cut -c1-32) $(CURDIR)"
	if [ -x $(BIN)/python ] && $(BIN)/python -c '' 2>/dev/null && [ "$$(cat $(VENV)/.stamp 2>/dev/null)" = "$$key" ]; then exit 0; fi
	say() { printf 'setup: %s\n' "$$*"; }
	fit() { "$$1" -c 'import sys; sys.exit(sys.version_info < (3, 11))' 2>/dev/null; }
	as_root() { if [ "$$(id -u)" = 0 ]; then "$$@"; else sudo -n "$$@"; fi; }
	can_install() { command -v apt-get >/dev/null && { [ "$$(id -u)" = 0 ] || sudo -n true 2>/dev/null; }; }
	apt() { say "installing $$* with apt-get"; as_root apt-get update -qq && as_root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$$@"; }
	pick() { for python in $${PYTHON:-python3 python3.14 python3.13 python3.12 python3.11}; do if fit "$$python"; then return 0; fi; done; return 1; }
	# Adopt an environment only if it works, is new enough, has pip, and its scripts point here (a copied tree's do not).
	if ! { fit $(BIN)/python && $(BIN)/python -m pip --version >/dev/null 2>&1 \
	       && head -n 2 $(BIN)/pip 2>/dev/null | grep -qF "$(CURDIR)/$(VENV)/bin/python"; }; then
	  if ! pick; then
	    if can_install; then apt python3 python3-venv; fi
	    pick || { say 'no Python 3.11 or newer found; install one, or name it: make setup PYTHON=/path/to/python3'; exit 1; }
	  fi
	  if ! "$$python" -c 'import ensurepip, venv' 2>/dev/null; then
	    if can_install; then apt python3-venv "python$$("$$python" -c 'import sys; print("%d.%d" % sys.version_info[:2])')-venv" || true; fi
	    "$$python" -c 'import ensurepip, venv' 2>/dev/null || { say "$$python has no venv module with pip; on Debian: sudo apt-get install python3-venv"; exit 1; }
	  fi
	  say "creating $(VENV) with $$("$$python" --version)"
	  "$$python" -m venv --clear $(VENV)
	fi
	rm -f $(VENV)/.stamp
	install() {
	  for pause in 5 20 0; do
	    if $(BIN)/python -m pip install -q --disable-pip-version-check --retries 5 "$$@"; then return 0; fi
	    if [ $$pause != 0 ]; then say "pip failed; again in $$pause s"; sleep $$pause; fi
	  done
	  say 'pip failed three times; its messages are above'; return 1
	}
	say 'installing the pinned requirements'
	install -r requirements.lock
	# Needs no network: the build backend is in the lock.
	$(BIN)/python -m pip install -q --disable-pip-version-check --no-deps --no-build-isolation -e .
	printf '%s\n' "$$key" > $(VENV)/.stamp
	say "ready: $$($(BIN)/python --version) in $(VENV)"

demo: setup ## answer the first example's need, from the wish to the report
	@$(BIN)/aerialwright answer examples/tarn-edge
	report=examples/tarn-edge/out/report.html
	[ -s $$report ] || { echo "demo: $$report was not written"; exit 1; }
	printf '\nThe report: %s\n' "$(CURDIR)/$$report"

lint: setup ## style, formatting and types
	@status=0
	$(BIN)/python -m ruff check $(CODE) || status=1
	$(BIN)/python -m ruff format --check $(CODE) || status=1
	$(BIN)/python -m mypy || status=1
	exit $$status

test: setup ## style, formatting, types and every test with coverage; all of them run even if one fails
	@status=0
	$(MAKE) lint || status=1
	$(BIN)/python -m pytest --cov --cov-report=term $(PYTEST_ARGS) || status=$$?
	if [ $$status != 0 ]; then echo 'make test: FAILED (style, types or tests, see above)'; fi
	exit $$status

tables: setup ## every row of the stored reference tables solved again (some minutes)
	@$(BIN)/python -m pytest -m whole_tables tests/published

format: setup ## rewrite the code in the house style
	@$(BIN)/python -m ruff check --fix $(CODE) || true
	$(BIN)/python -m ruff format $(CODE)

bench: setup ## benchmarks, as ratios within the run (BENCH_ARGS="--quick", "--compare main", ...)
	@$(BIN)/python benchmarks/run.py $(BENCH_ARGS)

lock: ## resolve the newest fitting versions in an empty environment and rewrite requirements.lock
	@work=$$(mktemp -d)
	trap 'rm -rf "$$work"' EXIT
	"$${PYTHON:-python3}" -m venv "$$work/venv"
	"$$work/venv/bin/python" -m pip install -q --disable-pip-version-check '.[dev]'
	{
	  echo '# Every package that the tests run on. Made by `make lock`; do not edit by hand.'
	  "$$work/venv/bin/python" -m pip list --format=freeze --disable-pip-version-check | grep -vE '^(aerialwright|pip|setuptools)=='
	} > "$$work/lock"
	if grep -vE '^(#.*|[A-Za-z0-9._-]+==[A-Za-z0-9.+!]+)$$' "$$work/lock"; then echo 'lock: the lines above are no plain name==version'; exit 1; fi
	cp "$$work/lock" requirements.lock
	wc -l requirements.lock

clean: ## remove what was built, cached or measured; .venv too
	@rm -rf $(VENV) .pytest_cache .mypy_cache .ruff_cache .hypothesis .coverage .coverage.* htmlcov build dist examples/*/out
	find src tests benchmarks -name __pycache__ -type d -prune -exec rm -rf {} +
