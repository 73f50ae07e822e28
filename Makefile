# Everything happens in .venv inside this folder; nothing else on the machine is changed.
#   make run     set up, match the parts of the example, then the page where somebody sits there
#   make page    the page, with the examples                        make test   all tests
#   make quick   the tests that catch most mistakes, half a minute  make wheel  package in dist/
#   make check   style, types, import contract
#   make docs    the site, in build/docs                            make lock   renew the locks
#   make bench   compare speeds with the reference library         make pictures  of the page
#   make evidence   docs/evidence.md from the tests against print, and what quotes it
# PYTHON=/path/to/python chooses an interpreter; WORKERS=1 tests in one process.

WORKERS ?= 2
UPGRADE ?=
RECORD := build/evidence.jsonl

BIN := .venv/bin
PY := $(BIN)/python
PIP := $(PY) -m pip --disable-pip-version-check --no-input
LOCKED := --quiet --require-hashes
CANDIDATES := python3.13 python3.12 python3.11 python3.14 python3 python

# A virtual environment does not survive being moved, nor its interpreter being removed.
USABLE := $(shell [ "$$(cat .venv/place 2>/dev/null)" = "$$(pwd)" ] && $(PY) -c "" 2>/dev/null && echo yes)
ifneq ($(USABLE),yes)
.PHONY: .venv/place
endif

# Matrices here are small, and both processors busy: a library that splits each product between them
# makes the tests a quarter slower. And a hundred commands are started: each would compile all that
# it imports, two seconds long, where Python may not keep what it compiled.
test quick docs $(RECORD): export OPENBLAS_NUM_THREADS := 1
test quick docs $(RECORD): export PYTHONDONTWRITEBYTECODE :=

.PHONY: run page test page-tools pictures quick check docs bench evidence survey lock wheel
.DELETE_ON_ERROR:

run: .venv/ready-run
	@$(BIN)/sweatline match examples/seed-store.toml
	@if [ -t 0 ]; then $(MAKE) --no-print-directory page; \
	  else echo "The same in a browser, and the rest of the job: make page"; fi

# The examples in a folder of their own, so that what is logged there is not part of the project.
page: .venv/ready-run
	@mkdir -p build/bench && cp -n examples/*.toml build/bench/ && $(BIN)/sweatline page build/bench

quick: .venv/ready-dev
	@$(PY) -m pytest -n $(WORKERS) --dist loadfile @tests/quick.txt

# What the tests against print leave behind is kept for the evidence and the site. The solver is
# compiled before, or every worker compiles it; and files go in the order of their names, or those
# of one long test come last, and one worker alone ends the work.
test: .venv/ready-dev page-tools
	@mkdir -p build && rm -f $(RECORD).new
	@$(PY) -c "from sweatline.design.first_compile import compile_solver; compile_solver()"
	@SWEATLINE_EVIDENCE=$(abspath $(RECORD)).new $(PY) -m pytest -n $(WORKERS) --dist loadfile \
	  --no-loadscope-reorder
	@mv $(RECORD).new $(RECORD)

# The tests of the page need a browser and a broker; Debian's are installed where that may be done.
page-tools:
	@have() { for p; do command -v "$$p" >/dev/null 2>&1 && return; done; return 1; }; wanted=; \
	have chromium chromium-browser google-chrome || wanted="chromium"; \
	have mosquitto /usr/sbin/mosquitto || wanted="$${wanted:+$$wanted }mosquitto"; \
	[ -z "$$wanted" ] && exit 0; \
	if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	  echo "Installing for the tests of the page: $$wanted"; \
	  apt-get -qq update && DEBIAN_FRONTEND=noninteractive apt-get -qq install \
	    --no-install-recommends $$wanted >/dev/null && exit 0; fi; \
	echo "The tests of the page need $$wanted (on Debian and Ubuntu: apt-get install $$wanted);" \
	  "without CI set they are left out"

# Pictures of the page in docs/pictures, made by the tests that a person's work is played in.
pictures: .venv/ready-dev page-tools
	@SWEATLINE_PICTURES=$(abspath docs/pictures) $(PY) -m pytest -q tests/browser/test_journeys.py

$(RECORD): .venv/ready-dev $(shell find src tests/published tests/evidence.py -name '*.py')
	@mkdir -p build && rm -f $@.new
	@echo "Running the tests against print for the evidence (two or three minutes)"
	@SWEATLINE_EVIDENCE=$(abspath $@).new $(PY) -m pytest -n $(WORKERS) --dist loadfile tests/published
	@mv $@.new $@

docs: .venv/ready-dev $(RECORD)
	@$(PY) tools/build_site.py --record $(RECORD)

check: .venv/ready-dev
	@$(BIN)/ruff check .
	@$(BIN)/ruff format --check .
	@$(BIN)/mypy
	@$(BIN)/lint-imports

bench: .venv/ready-dev
	@for script in benchmarks/*.py; do $(PY) "$$script" || exit 1; done

survey: .venv/ready-dev
	@$(PY) tools/survey_machines.py --count 10000 --workers $(WORKERS)
	@$(PY) tools/survey_machines.py --first 10000 --count 2000 --workers $(WORKERS) \
	  --record build/survey/fresh.jsonl
	@$(PY) tools/survey_machines.py --brackets 260
	@$(PY) tools/survey_jumps.py --count 60
	@$(PY) tools/build_robustness_page.py

evidence: .venv/ready-dev $(RECORD)
	@$(PY) tools/build_evidence.py --record $(RECORD)
	@$(PY) tools/build_readme_example.py --evidence

wheel: .venv/ready-dev
	@$(PY) -m build --wheel --no-isolation --outdir dist .

# The resolver stays out of the environment that it resolves for. UPGRADE=--upgrade renews all pins.
lock: .venv/place
	@rm -rf .venv/lock && $(PY) -m venv .venv/lock
	@.venv/lock/bin/python -m pip --disable-pip-version-check install --quiet "pip-tools>=7.5,<8"
	@.venv/lock/bin/python tools/lock.py $(UPGRADE)

.venv/place:
	@for python in $(PYTHON) $(if $(PYTHON),,$(CANDIDATES)); do \
	  if "$$python" -c "import sys, venv, ensurepip; sys.exit(sys.version_info < (3, 11))" \
	      >/dev/null 2>&1; then \
	    echo "Setting up .venv with $$("$$python" --version)" && rm -rf .venv && \
	    "$$python" -m venv .venv && pwd >.venv/place && exit 0; exit 1; \
	  fi; \
	done; \
	echo "sweatline needs Python 3.11 or newer with its venv module, and found none;" \
	  "install it (on Debian and Ubuntu: python3 and python3-venv)" \
	  "or name one: make run PYTHON=/path/to/python" >&2; exit 1

.venv/ready-run: .venv/place requirements.lock requirements-build.lock pyproject.toml
	@echo "Installing the locked packages (some 150 MB, once; a minute or two)"
	@$(PIP) install $(LOCKED) --only-binary :all: -r requirements.lock -r requirements-build.lock
	@$(PIP) install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

.venv/ready-dev: .venv/ready-run requirements-dev.lock
	@echo "Installing the locked packages for tests and checks"
	@$(PIP) install $(LOCKED) --use-pep517 -r requirements-dev.lock
	@touch $@
