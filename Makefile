# A machine needs Go 1.26 and make; `make setup` brings the rest.
GO ?= go
STATICCHECK = $(GO) tool -modfile=tools/go.mod staticcheck

# Debian packages that the full test run compares with. A test whose tool is
# missing is skipped with a message, and fails where CI=true.
PACKAGES = units zbar-tools python3-iapws python3-fluids python3-scipy python3-numpy python3-prometheus-client openssl r-cran-desolve libsundials-dev gcc cmake chromium fonts-liberation nodejs npm qemu-user

# Where the processor can round x*y + z once instead of twice, the compiler is told not to: the same input and seed
# print the same digits everywhere. On amd64 it does so from v3 on alone.
ifneq ($(shell $(GO) env GOARCH),amd64)
export GOFLAGS := $(shell $(GO) env GOFLAGS) -gcflags=all=-d=fmahash=qn
endif
export GOAMD64 = v1

# What the scripts of the pages are made from, and into.
SCRIPT = internal/web/script
BUNDLE = internal/web/built/spile.js

.PHONY: help setup demo test lint build bench bundle texts

help:
	@echo "make demo    a forecast in the terminal, then the pages of an invented shed, until Ctrl-C"
	@echo "make test    vet, staticcheck and all tests"
	@echo "make build   bin/spile"
	@echo "make bundle  the scripts of the pages, which work without"
	@echo "make texts   internal/catalogue/texts.pot, all that is said, to be translated"
	@echo "make bench   the timings"
	@echo "make setup   modules, and the Debian packages that the full test run compares with"

setup:
	$(GO) mod download
	$(GO) mod download -modfile=tools/go.mod
	@sh tools/packages.sh $(PACKAGES)

# Needs node and its packages; where they cannot be had, the pages go without script,
# rather than with one that was made from other sources.
bundle:
	@$(MAKE) --no-print-directory $(BUNDLE) || { rm -f $(dir $(BUNDLE))*.js $(dir $(BUNDLE))*.css; echo "the scripts of the pages could not be built (make setup brings what they need); the pages go without"; [ "$$CI" != true ]; }

$(BUNDLE): $(wildcard $(SCRIPT)/*.ts) $(SCRIPT)/tsconfig.json $(SCRIPT)/node_modules/.package-lock.json tools/bundle/main.go
	cd $(SCRIPT) && npx --no-install tsc -p tsconfig.json && npx --no-install tsc -p tsconfig.worker.json
	GOOS= GOARCH= $(GO) -C tools run ./bundle

$(SCRIPT)/node_modules/.package-lock.json: $(SCRIPT)/package-lock.json
	@sh tools/packages.sh nodejs npm
	cd $(SCRIPT) && npm ci --no-fund --no-audit
	@touch $@

# All that the program says, for those who translate it.
texts:
	$(GO) test ./internal/catalogue -run TestTextsAreCurrent -update

demo: bundle
	$(GO) run ./cmd/spile demo

# Sets up first; where that cannot be, what is missing is skipped with a message.
# The tests come last, so that what they print is what is read.
test:
	@$(MAKE) --no-print-directory setup || [ "$$CI" != true ]
	@$(MAKE) --no-print-directory bundle
	@$(MAKE) --no-print-directory lint
	$(GO) test -timeout 15m ./...

lint:
	$(GO) vet ./...
	@if $(STATICCHECK) -version >/dev/null 2>&1; then $(STATICCHECK) ./... && $(GO) -C tools vet ./...; \
	elif [ "$$CI" = true ]; then echo "staticcheck could not be had: make setup"; exit 1; \
	else echo "staticcheck could not be had (make setup brings it); going on without"; fi

build: bundle
	$(GO) build -trimpath -ldflags "-s -w" -o bin/spile ./cmd/spile

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

-include bench.mk
