GO ?= go
# Our integrator's rows; where other integrators' programs are at hand, theirs
# beside ours in one run. PEERS holds a run.sh that starts GO_BENCH among its own;
# it builds in place, so it works on a copy. PEER_OPTIONS=--quick takes fewer samples.
PEERS ?= ../shared/perf
PEER_OPTIONS ?=

.PHONY: bench-peer

bench-peer:
	$(GO) build -trimpath -o build/bench-peer ./cmd/bench-peer
	@if [ -f "$(PEERS)/run.sh" ]; then \
		mkdir -p build/peers && cp -R "$(PEERS)/." build/peers/ && chmod -R u+w build/peers && \
		cd build/peers && GO_BENCH="$(CURDIR)/build/bench-peer" bash ./run.sh $(PEER_OPTIONS); \
	else \
		echo "# no peers in $(PEERS): our rows alone"; build/bench-peer; \
	fi

# How honest forecasts of the measured ferments are, whole conditions left out of
# what was learnt: three minutes on two idle cores.
.PHONY: score
score:
	$(GO) test ./estimate -run MeasuredFerments -score -v -timeout 60m
