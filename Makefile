# make run    builds, starts everything on this machine, loads the demo drive the first time
# make test   every test; fetches what they need where it can
# make long   the same with the many rounds

# Nothing here speaks MessagePack; without its codec a first build takes a quarter less.
export GOFLAGS := $(strip $(GOFLAGS) -tags=nomsgpack)

# Packages tested at once: half as many again as there are processors, for their tests wait for Postgres and a browser.
AT_ONCE = $$(( ($$(getconf _NPROCESSORS_ONLN) * 3 + 1) / 2 ))

.PHONY: run test long lint build pictures bench load

build:
	go build -o bin/boltward ./cmd/boltward

run: build
	@bin/boltward demo --if-empty
	@exec bin/boltward serve

test:
	@sh .ci/fetch
	go vet ./...
	go test -vet=off -p $(AT_ONCE) -timeout 20m ./...
	@sh .ci/fuzz 10s

long:
	@sh .ci/fetch
	go vet ./...
	BOLTWARD_LONG=1 go test -vet=off -timeout 120m ./...
	@BOLTWARD_LONG=1 sh .ci/fuzz 10m

lint:
	@test -z "$$(go tool gofumpt -l cmd internal migrations templates testdata web)" || { go tool gofumpt -l cmd internal migrations templates testdata web; exit 1; }
	go vet ./...
	go tool staticcheck ./...

# Every page at 390 and 1280 px, and the printed sheets, into pictures/ (git ignores it).
pictures: build
	@sh .ci/fetch
	BOLTWARD_PICTURES=$(CURDIR)/pictures go test -count=1 -run 'TestPictures|TestComingIn' ./cmd/boltward

bench:
	go test -run '^$$' -bench . -benchmem ./internal/cutting/... ./internal/planning/...
	go test -run '^$$' -bench 'TenThousandLots|Books$$' -benchtime 1x ./cmd/boltward
	go run ./internal/planning/tables
	go run ./internal/forecast/tables -again 20

# Fifty helpers and five hundred volunteers at work for some minutes, on loopback, beside a bare handler.
load: build
	go run ./internal/load
