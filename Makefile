# make demo   plans, proves and writes the shop pack of the demo bowl, and says how to open the page
# make page   the page of `treen serve`, which the next build of the program carries
# make test   all tests          make lint   format, clippy and docs, warnings as errors
# make bench  the benchmarks     make examples   packs of all examples, planned and proven
# make faults   every kind of fault put into every example
# make journeys the page in a real browser (needs Chromium: apt-get install chromium)

CARGO ?= cargo
# What runs here is built for this machine's processor: the heavy loops are two to three times quicker.
HERE = RUSTFLAGS="-C target-cpu=native" $(CARGO)

.PHONY: demo page test lint bench examples picture faults journeys

demo:
	@$(MAKE) --no-print-directory page || echo "The page could not be built, see above: the program is built without it."
	$(HERE) run --release --locked -p treen -- plan examples/tidepool/job.toml --out out/tidepool
	@echo
	@echo "The page of your own jobs and of the examples: target/release/treen serve examples"

# The page is built by npm (Node 20 or newer). Where there is none the program is built without it, and says so.
page:
	@if command -v npm >/dev/null; then $(MAKE) --no-print-directory web/dist/index.html; \
	else echo "There is no npm on this machine: the program is built without its page."; fi

web/node_modules/.package-lock.json: web/package-lock.json
	npm --prefix web ci --no-audit --no-fund

web/dist/index.html: web/node_modules/.package-lock.json web/build.js $(shell find web/src -type f)
	npm --prefix web run build

examples:
	for job in examples/*/job.toml; do name=$$(basename $$(dirname $$job)); \
	$(HERE) run --release --locked -p treen -- plan $$job --out out/$$name || exit 1; done

test: page
	npm --prefix web test
	$(CARGO) test --workspace --locked

lint: page
	npm --prefix web run check
	$(CARGO) fmt --all -- --check
	$(CARGO) clippy --workspace --all-targets --locked -- -D warnings
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --workspace --no-deps --locked --document-private-items

bench:
	$(HERE) bench --workspace --locked

# Every kind of fault put into every example: a quarter of an hour.
faults:
	$(HERE) test --release --locked -p treen --test faults -- --ignored

# The main journeys through the page, in Debian's Chromium; what it looked like is kept in web/out/shots.
journeys: page
	$(CARGO) build --release --locked -p treen
	npm --prefix web run journeys

# The picture in the README, made by the tool itself.
picture: demo
	cp out/tidepool/pictures/piece.png docs/tidepool.png
