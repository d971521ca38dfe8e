# make demo, make test and make bench work on a bare Debian or Ubuntu machine with Python 3.11 or newer.
PYTHON ?= python3
BIN := .venv/bin
SUDO := $(shell [ "$$(id -u)" = 0 ] || echo sudo)
# Small matrices are solved faster on one thread, and tests already use both cores.
export OPENBLAS_NUM_THREADS ?= 1

RUN_PACKAGES := libpango-1.0-0 libpangoft2-1.0-0 libharfbuzz-subset0 fonts-inter fonts-dejavu-core
# libatomic1: the node program inside Playwright's package wants it
TEST_PACKAGES := chromium libatomic1

.PHONY: demo test bench torture lint audit clean

demo: .make/system .make/run
	@rm -rf demo-job
	$(BIN)/wainscribe demo demo-job

test: .make/system .make/system-test .make/chessboard/left01.jpg .make/test
	$(MAKE) --no-print-directory lint
	$(BIN)/python -m pytest -n 2 --dist loadgroup

lint: .make/test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

bench: .make/system .make/test
	$(BIN)/python -m tests.bench

# Long checks: sudden deaths by the thousand, bad input by the ten thousand.
torture: .make/system .make/test
	$(BIN)/python -m tests.torture
	$(BIN)/python -m tests.fuzz

# Known weaknesses in what is installed. It asks a service on the internet, so it is no part of make test; what the
# service could not tell of counts as a failure.
audit: .make/run .make/audit
	$(BIN)/python -m pip freeze --disable-pip-version-check --exclude-editable > .make/installed.txt
	.make/audit/bin/pip-audit --strict --no-deps --disable-pip -r .make/installed.txt

.make/audit:
	$(PYTHON) -m venv $@
	$@/bin/python -m pip install --quiet --disable-pip-version-check pip-audit

.make/run: pyproject.toml
	@mkdir -p .make
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { echo "Python 3.11 or newer is needed; name it with make PYTHON=python3.11"; exit 1; }
	[ -x $(BIN)/python ] || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e .
	@touch $@

.make/test: pyproject.toml .make/run
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -e '.[test]'
	@touch $@

# WeasyPrint sets the papers with Pango; Inter has true fractions.
.make/system:
	@mkdir -p .make
	@if command -v apt-get >/dev/null; then \
	  dpkg -s $(RUN_PACKAGES) >/dev/null 2>&1 || { $(SUDO) apt-get update -qq && DEBIAN_FRONTEND=noninteractive $(SUDO) apt-get install -y -qq --no-install-recommends $(RUN_PACKAGES) python3-venv; }; \
	else echo "Not Debian or Ubuntu: install Pango 1.44 or newer and the Inter font yourself (README, Installing)."; fi
	@touch $@

.make/system-test:
	@mkdir -p .make
	@if command -v apt-get >/dev/null; then \
	  dpkg -s $(TEST_PACKAGES) >/dev/null 2>&1 || { $(SUDO) apt-get update -qq && DEBIAN_FRONTEND=noninteractive $(SUDO) apt-get install -y -qq --no-install-recommends $(TEST_PACKAGES); }; \
	else echo "Not Debian or Ubuntu: install Chromium yourself for the tests."; fi
	@touch $@

# Real photographs of a flat chessboard, for the tests: of a package of 270 MB only these are unpacked.
.make/chessboard/left01.jpg:
	@mkdir -p $(@D)
	@if command -v apt-get >/dev/null; then cd $(@D) && \
	  { apt-get download -qq opencv-doc 2>/dev/null || { $(SUDO) apt-get update -qq && apt-get download -qq opencv-doc; }; } && \
	  dpkg-deb --fsys-tarfile opencv-doc_*.deb | tar -x --strip-components=7 --wildcards '*/examples/data/left[01]*.jpg' '*/examples/data/right[01]*.jpg' && \
	  rm opencv-doc_*.deb; \
	else echo "Not Debian or Ubuntu: the chessboard tests are skipped."; fi

clean:
	rm -rf .venv .make demo-job
