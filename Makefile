# packwright: `make run` and `make test` do everything on a machine with Go and Node.
# The set-up they need (npm packages, a browser and PDF tools for the tests) is done here.

SHELL := /bin/bash
.SHELLFLAGS := -eu -o pipefail -c
export CGO_ENABLED ?= 0

VERSION ?= $(shell git describe --always --dirty 2>/dev/null || echo dev)
LDFLAGS := -s -w -X main.version=$(VERSION)
LISTEN  ?= 127.0.0.1:8080
DATA    ?=# a folder for the data; the usual one where it is empty
STATICCHECK := honnef.co/go/tools/cmd/staticcheck@v0.8.2
PEBBLE  := github.com/letsencrypt/pebble/v2/cmd/pebble@v2.10.1
GOWASM  := $(shell go env GOROOT)/lib/wasm
# What the phone runs, tested under js/wasm as well.
PHONE   := ./internal/problem ./internal/strictjson ./internal/place ./internal/measure ./internal/loadtest ./internal/judge ./internal/cells \
           ./internal/journal ./internal/fleet ./internal/core ./internal/demo ./internal/trend ./internal/wiring ./internal/logged \
           ./internal/order ./internal/diagnose ./internal/drive ./internal/charging ./internal/stock ./internal/sheet ./internal/season

.NOTPARALLEL: # one build of the app serves every step
.PHONY: run build web test go-test run-test wasm-test web-test journeys shake field race fmt lint bench fuzz tools clean

run: build ## build all and serve on this machine
	./bin/packwright serve --listen $(LISTEN) $(if $(DATA),--data "$(DATA)")

build: web ## one static binary, bin/packwright
	go build -trimpath -ldflags '$(LDFLAGS)' -o bin/packwright ./server

web: webapp/node_modules/.package-lock.json ## the app that the binary embeds
	go run ./webapp/build

webapp/node_modules/.package-lock.json: webapp/package-lock.json
	cd webapp && npm ci --no-audit --no-fund
	@touch $@

test: tools build lint go-test wasm-test web-test journeys field ## everything that .ci/run checks

go-test: bin/pebble
	PEBBLE=$(CURDIR)/bin/pebble go test -timeout 12m -parallel 4 -skip '^TestOnNetwork' ./server ./internal/store ./... # the longest first; those skipped are for make field
	go test -v -run '^TestMayMount$$' ./internal/store # says whether full disks and power cuts were checked here

bin/pebble: ## a test server for ACME certificates
	GOBIN=$(CURDIR)/bin go install $(PEBBLE)

run-test: ## make run in a fresh clone, as the README begins; not part of make test, which takes long enough
	PACKWRIGHT_MAKE_RUN=1 go test -count=1 -run '^TestMakeRun$$' ./server

wasm-test: ## the phone's packages in the phone's compiler
	PATH="$$PATH:$(GOWASM)" GOOS=js GOARCH=wasm go test -timeout 8m $(PHONE) ./webapp/core

web-test: web
	cd webapp && npm run --silent check && npm run --silent unit

journeys: build tools ## the app in a real browser
	cd webapp && npm run --silent e2e

shake: build tools ## the journeys with a server that halts now and then; timing tests may fail, all others may not
	cd webapp && PACKWRIGHT_STALL=1 npm run --silent e2e

field: build tools ## phones, an intruder and two servers on networks of namespaces; needs root, and says so where it skips
	go test -c -o bin/intruder ./server && ln -f bin/intruder bin/whohas # a test program is also what its name says
	go test -v -count 1 -timeout 8m -run '^TestOnNetwork' ./server & beside=$$!; \
	  (cd webapp && npm run --silent field) && wait $$beside # both wait more than they work

race: ## needs a C compiler
	CGO_ENABLED=1 go test -race -timeout 12m ./internal/store ./internal/ca ./server

fmt:
	gofmt -w internal labels server webapp/build webapp/core webapp/embed.go

lint:
	@out=$$(gofmt -l internal labels server webapp/build webapp/core webapp/embed.go); \
	  if [ -n "$$out" ]; then echo "run make fmt: $$out"; exit 1; fi
	go vet ./...
	GOOS=js GOARCH=wasm go vet ./webapp/core
	go run $(STATICCHECK) ./...

bench: build server/testdata/peer/node_modules/.package-lock.json ## speed and memory; prints figures, judges nothing
	go test -run '^$$' -bench . -benchmem $(PHONE) ./internal/store ./labels
	PATH="$$PATH:$(GOWASM)" GOOS=js GOARCH=wasm go test -run '^$$' -bench . $(PHONE)
	PEER="$(CURDIR)/server/testdata/peer/node_modules/.bin/pouchdb-server" go test -run '^$$' -bench . -count 5 ./server
	cd webapp && npm run --silent measure

server/testdata/peer/node_modules/.package-lock.json: server/testdata/peer/package-lock.json
	cd server/testdata/peer && npm ci --no-audit --no-fund
	@touch $@

fuzz: ## a minute for each fuzz target
	@for t in $$(grep -rhoE --include='*_test.go' '^func Fuzz[A-Za-z0-9_]+' internal server | sed 's/^func //'); do \
	  d=$$(dirname $$(grep -rlE --include='*_test.go' "^func $$t\\b" internal server)); \
	  echo "== $$t in $$d"; go test -run '^$$' -fuzz "^$$t$$" -fuzztime 60s -fuzzminimizetime 5x ./$$d; done

tools: ## what the tests need besides Go and Node
	@need=(); \
	for p in chromium:chromium zbarimg:zbar-tools pdftoppm:poppler-utils pdftotext:poppler-utils openssl:openssl \
	  ip:iproute2 certutil:libnss3-tools; do \
	  command -v $${p%%:*} >/dev/null || need+=($${p##*:}); done; \
	if [ $${#need[@]} -gt 0 ]; then \
	  if [ "$$(id -u)" = 0 ] && command -v apt-get >/dev/null; then \
	    apt-get update -qq && DEBIAN_FRONTEND=noninteractive apt-get install -y -qq $${need[@]} >/dev/null; \
	  else echo "the tests need these Debian packages, please install them: $${need[*]}"; exit 1; fi; fi

clean:
	rm -rf bin webapp/dist/assets webapp/test-results webapp/playwright-report
	find webapp/dist -type f ! -name .gitkeep -delete
