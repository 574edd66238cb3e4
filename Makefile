# A machine needs Go 1.26 and make; `make setup` brings the rest.
GO ?= go
STATICCHECK = $(GO) tool -modfile=tools/go.mod staticcheck

# Debian packages that the full test run compares with. A test whose tool is
# missing is skipped with a message, and fails where CI=true.
PACKAGES = units python3-iapws python3-fluids python3-scipy python3-numpy r-cran-desolve libsundials-dev gcc cmake chromium fonts-liberation

.PHONY: help setup demo test lint build bench

help:
	@echo "make demo    a forecast of one measured ferment: what is, what comes, what to do"
	@echo "make test    vet, staticcheck and all tests"
	@echo "make build   bin/spile"
	@echo "make bench   the timings"
	@echo "make setup   modules, and the Debian packages that the full test run compares with"

setup:
	$(GO) mod download
	$(GO) mod download -modfile=tools/go.mod
	@sh tools/packages.sh $(PACKAGES)

demo:
	$(GO) run ./cmd/spile demo --once

# Sets up first; where that cannot be, what is missing is skipped with a message.
# The tests come last, so that what they print is what is read.
test:
	@$(MAKE) --no-print-directory setup || [ "$$CI" != true ]
	@$(MAKE) --no-print-directory lint
	$(GO) test -timeout 15m ./...

lint:
	$(GO) vet ./...
	@if $(STATICCHECK) -version >/dev/null 2>&1; then $(STATICCHECK) ./...; \
	elif [ "$$CI" = true ]; then echo "staticcheck could not be had: make setup"; exit 1; \
	else echo "staticcheck could not be had (make setup brings it); going on without"; fi

build:
	$(GO) build -trimpath -o bin/spile ./cmd/spile

bench:
	$(GO) test -run '^$$' -bench . -benchmem ./...

-include bench.mk
