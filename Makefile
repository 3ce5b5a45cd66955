# make demo   plans, proves and writes the shop pack of the demo bowl
# make test   all tests          make lint   format, clippy and docs, warnings as errors
# make bench  the benchmarks     make examples   packs of all examples
# make faults   every kind of fault put into every example

CARGO ?= cargo
# What runs here is built for this machine's processor: the heavy loops are two to three times quicker.
HERE = RUSTFLAGS="-C target-cpu=native" $(CARGO)

.PHONY: demo test lint bench examples picture faults

demo:
	$(HERE) run --release --locked -p treen -- plan examples/tidepool/job.toml --out out/tidepool

examples: demo
	$(HERE) run --release --locked -p treen -- plan examples/clover/job.toml --out out/clover
	$(HERE) run --release --locked -p treen -- plan examples/pantry-tray/job.toml --out out/pantry-tray
	$(HERE) run --release --locked -p treen -- plan examples/sweetheart/job.toml --out out/sweetheart

test:
	$(CARGO) test --workspace --locked

lint:
	$(CARGO) fmt --all -- --check
	$(CARGO) clippy --workspace --all-targets --locked -- -D warnings
	RUSTDOCFLAGS="-D warnings" $(CARGO) doc --workspace --no-deps --locked --document-private-items

bench:
	$(HERE) bench --workspace --locked

# Every kind of fault put into every example: a quarter of an hour.
faults:
	$(HERE) test --release --locked -p treen --test faults -- --ignored

# The picture in the README, made by the tool itself.
picture: demo
	cp out/tidepool/pictures/piece.png docs/tidepool.png
