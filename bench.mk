GO ?= go
# Our integrator's rows; where other integrators' programs are at hand, theirs
# beside ours in one run. PEERS holds a run.sh that starts GO_BENCH among its own;
# it builds in place, so it works on a copy. PEER_OPTIONS=--quick takes fewer samples.
PEERS ?= ../shared/perf
PEER_OPTIONS ?=

.PHONY: bench-peer calibration

bench-peer:
	$(GO) build -trimpath -o build/bench-peer ./cmd/bench-peer
	@if [ -f "$(PEERS)/run.sh" ]; then \
		mkdir -p build/peers && cp -R "$(PEERS)/." build/peers/ && chmod -R u+w build/peers && \
		cd build/peers && GO_BENCH="$(CURDIR)/build/bench-peer" bash ./run.sh $(PEER_OPTIONS); \
	else \
		echo "# no peers in $(PEERS): our rows alone"; build/bench-peer; \
	fi

# How honest the forecasts are, written to docs/calibration.md: BUDGET=quick (about a
# minute), ci (ten minutes), full (an hour on two cores) or wide (some minutes more: batches
# with rarer instruments, too). Work is kept in build/ as it is done: a run that was ended
# goes on, as long as nothing that is computed changed.
# MINUTES=60 ends it then, with the page of what was done by seed; the same command goes on.
BUDGET ?= full
SEED ?= 1
MINUTES ?= 0
COMPUTED = portable matrix unit root limit ode wort co2 yeast dispense vessel batch estimate bayes internal/ferment internal/calibration testdata/ferments

calibration:
	$(GO) build -trimpath -o build/calibrate ./cmd/calibrate
	GOGC=400 nice build/calibrate -budget $(BUDGET) -seed $(SEED) -minutes $(MINUTES) -command "make calibration BUDGET=$(BUDGET) SEED=$(SEED)$(if $(filter-out 0,$(MINUTES)), MINUTES=$(MINUTES))" \
		-engine "$$(git log -1 --format=%h -- $(COMPUTED))$$(git diff --quiet HEAD -- $(COMPUTED) || echo +changes)" \
		-date "$$(git log -1 --format=%cs -- $(COMPUTED))"
