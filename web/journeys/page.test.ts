// The main journeys of a maker through the page, in a real browser.
import assert from "node:assert/strict";
import { readFileSync } from "node:fs";
import { join } from "node:path";
import { after, before, test } from "node:test";
import type { Page } from "playwright-core";
import { SAUCER, Shop, TIDEPOOL, barriers, shot } from "./shop";

const shop = new Shop({ saucer: SAUCER });
before(() => shop.open());
after(() => shop.end());

const tab = (page: Page, name: string) => page.getByRole("navigation", { name: "Views" }).getByRole("button", { name }).click();

/** Waits until the picture in space shows something: its colours differ from those of an empty bench. */
async function seen(page: Page): Promise<void> {
  await page.locator(".stage canvas").waitFor();
  for (let k = 0; k < 100; k++) {
    const colours = await page.locator(".stage").screenshot().then((png) => png.length);
    // An even surface packs to a few kB; a turned bowl with its grain to far more.
    if (colours > 25_000) return;
    await page.waitForTimeout(100);
  }
  assert.fail("nothing is to be seen in space");
}

async function openJob(page: Page, id: string): Promise<void> {
  await page.goto(`${shop.address}/#job=${id}&view=shape`);
  await page.getByRole("heading", { level: 1 }).waitFor();
}

async function planned(page: Page): Promise<void> {
  await page.getByRole("button", { name: "Plan the making" }).first().click();
  await page.locator(".verdict, .plan-line:has-text('check')").first().waitFor({ timeout: 300_000 });
}

test("from an example to a changed bowl, its comments kept, and back", async () => {
  const page = await shop.page();
  await page.goto(shop.address);
  await page.getByRole("radio", { name: /Tidepool/ }).check();
  await page.getByLabel("Name of the piece").fill("Sea bowl");
  await shot(page, "start");
  await page.getByRole("button", { name: "Begin", exact: true }).click();
  await page.getByRole("heading", { level: 1, name: "Sea bowl" }).waitFor();
  await seen(page);
  await page.getByText("Wood in it").waitFor();
  await shot(page, "shape");
  const began = shop.read("Sea bowl");
  const height = page.getByLabel("Height", { exact: true });
  await height.fill("58 mm");
  await height.press("Enter");
  await page.locator(".caption", { hasText: "58" }).waitFor();
  assert.equal(shop.read("Sea bowl"), began.replace("height = \"52 mm\"", "height = \"58 mm\""));
  await page.getByRole("button", { name: "Undo" }).click();
  await page.locator(".caption", { hasText: "52" }).waitFor();
  assert.equal(shop.read("Sea bowl"), began);
  await page.getByRole("button", { name: "Redo" }).click();
  await page.locator(".caption", { hasText: "58" }).waitFor();
  await page.getByLabel("Outline").selectOption({ label: "Lobes" });
  await page.getByLabel("Lobes", { exact: true }).waitFor();
  assert.match(shop.read("Sea bowl"), /outline = \{ kind = "lobed", diameter = "190 mm"/);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a plan, its proof, its papers", async () => {
  const page = await shop.page();
  await openJob(page, "saucer");
  await seen(page);
  await planned(page);
  await tab(page, "Route");
  await page.getByText(/^Step 1 of/).waitFor();
  await page.getByRole("button", { name: "The next step" }).click();
  await page.getByText(/^Step 2 of/).waitFor();
  await page.getByRole("navigation", { name: "The making, step by step" }).getByRole("button").last().click();
  await page.locator("img.shot").waitFor();
  await shot(page, "route");
  await page.getByRole("button", { name: "Turn it in space" }).click();
  await seen(page);
  await shot(page, "route-in-space");
  await page.locator(".why summary").first().click();
  await page.locator(".why[open] .formula").first().waitFor();
  assert.deepEqual(await barriers(page), []);

  await tab(page, "Proof");
  const checks = page.locator(".check > button");
  assert.ok(await checks.count() > 20);
  const pictured = page.locator(".check > button", { hasText: "chip load" }).first();
  await pictured.click();
  await page.locator(".check .more").waitFor();
  await shot(page, "proof");
  assert.deepEqual(await barriers(page), []);
  await page.getByRole("button", { name: "Paint it on the piece" }).click();
  await page.locator(".legend.afloat").waitFor();
  await seen(page);
  await page.waitForTimeout(900);
  await shot(page, "painted");
  assert.deepEqual(await barriers(page), []);

  await tab(page, "Papers");
  const [download] = await Promise.all([page.waitForEvent("download"), page.getByRole("link", { name: "Download everything" }).click()]);
  assert.equal(download.suggestedFilename(), "saucer-pack.zip");
  const zip = readFileSync((await download.path())!);
  assert.equal(zip.subarray(0, 2).toString(), "PK");
  assert.ok(zip.includes("shop-sheet.pdf"));
  await page.frameLocator("iframe.sheet").getByRole("heading", { name: "Saucer" }).waitFor();
  await shot(page, "papers");
  await page.getByRole("button", { name: "Put it beside the job" }).click();
  await page.getByText("The pack is in the folder").waitFor();
  assert.ok(JSON.parse(readFileSync(join(shop.folder, "saucer/pack/plan.json"), "utf8")).steps.length > 3);
  assert.deepEqual(await barriers(page), []);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a carving is watched, run and gone through block by block", async () => {
  shop.write("watched", SAUCER);
  const page = await shop.page();
  await openJob(page, "watched");
  await planned(page);
  await tab(page, "Route");
  await page.getByRole("navigation", { name: "The making, step by step" }).getByRole("button", { name: /carve|inside|outside|cut/i }).last().click();
  await page.getByRole("button", { name: "Watch it carved" }).click();
  const time = page.getByRole("slider", { name: "Time of the carving" });
  await time.waitFor();
  await seen(page);
  const now = () => time.evaluate((slider: HTMLInputElement) => slider.valueAsNumber);
  assert.equal(await now(), 0);
  const line = page.locator(".player mark");
  await line.waitFor();
  for (let k = 0; k < 4; k++) await page.getByRole("button", { name: "One block on" }).click();
  const [text, at] = [await line.innerText(), await now()];
  await page.locator(".stage").focus();
  await page.keyboard.press(".");
  await page.waitForFunction((text) => document.querySelector(".player mark")?.textContent !== text, text);
  assert.ok(await now() > at);
  await page.keyboard.press(",");
  await page.waitForTimeout(300);
  assert.equal(await line.innerText(), text, "one block back is where it was");
  const whole = Number(await time.getAttribute("max"));
  await time.evaluate((slider: HTMLInputElement) => {
    slider.value = String(Number(slider.max) * 0.55);
    slider.dispatchEvent(new Event("input", { bubbles: true }));
  });
  await shot(page, "carving");
  assert.deepEqual(await barriers(page), []);
  const half = await page.locator(".stage").screenshot();
  await page.getByLabel("Speed").selectOption({ label: "1000 times" });
  await page.locator(".stage").focus();
  await page.keyboard.press("Space");
  await page.getByRole("button", { name: "Hold" }).waitFor();
  await page.getByRole("button", { name: "Run" }).waitFor();
  assert.ok(Math.abs((await now()) - whole) < 1e-6, "it runs to its end");
  await page.waitForTimeout(500);
  assert.notDeepEqual(await page.locator(".stage").screenshot(), half);
  await shot(page, "carved");
  await page.setViewportSize({ width: 390, height: 844 });
  await shot(page, "phone-carving");
  assert.ok(await page.evaluate(() => document.documentElement.scrollWidth <= document.documentElement.clientWidth));
  await page.setViewportSize({ width: 1280, height: 800 });
  await page.getByRole("button", { name: "Show the picture" }).click();
  await page.locator("img.shot").waitFor();
  await tab(page, "Papers");
  await page.getByRole("button", { name: "Show the film" }).click();
  const film = page.locator("img[src*='/api/film']");
  await film.waitFor({ timeout: 120_000 });
  assert.ok(await film.evaluate((picture: HTMLImageElement) => picture.naturalWidth) >= 320);
  await shot(page, "film");
  assert.deepEqual(await barriers(page), []);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a job begins with a drawing dropped on the page, and undo outlives a reload", async () => {
  const page = await shop.page();
  await page.goto(shop.address);
  await page.getByRole("heading", { name: "Begin a job" }).waitFor();
  await page.evaluate((svg) => {
    const carried = new DataTransfer();
    carried.items.add(new File([svg], "fern.svg"));
    dispatchEvent(new DragEvent("drop", { dataTransfer: carried, cancelable: true }));
  }, readFileSync("../examples/leaf/leaf.svg", "utf8"));
  await page.getByText("fern.svg", { exact: true }).waitFor();
  assert.equal(await page.getByLabel("Name of the piece").inputValue(), "Fern");
  await shot(page, "brought");
  assert.deepEqual(await barriers(page), []);
  await page.getByRole("button", { name: "Begin", exact: true }).click();
  await page.getByRole("heading", { level: 1, name: "Fern" }).waitFor();
  assert.match(shop.read("Fern"), /kind = "svg", file = "fern.svg"/);
  const began = shop.read("Fern");
  const height = page.getByLabel("Height", { exact: true });
  await height.fill("40 mm");
  await height.press("Enter");
  await page.waitForFunction(() => !(document.querySelector(".steps-back button") as HTMLButtonElement).disabled);
  await page.reload();
  await page.getByRole("button", { name: "Undo" }).click();
  for (let k = 0; k < 50 && shop.read("Fern") !== began; k++) await page.waitForTimeout(100);
  assert.equal(shop.read("Fern"), began);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("eight tabs hear of every change", async () => {
  shop.write("tabs", SAUCER);
  const first = await shop.page();
  const pages: Page[] = [first];
  for (let k = 1; k < 8; k++) pages.push(await first.context().newPage());
  for (const page of pages) await openJob(page, "tabs");
  shop.write("tabs", SAUCER.replace("\"14 mm\"", "\"16 mm\""));
  for (const page of pages) await page.locator(".caption", { hasText: "16" }).waitFor();
  // The tab that listened is closed: another takes its place.
  await first.close();
  shop.write("tabs", SAUCER.replace("\"14 mm\"", "\"18 mm\""));
  for (const page of pages.slice(1)) await page.locator(".caption", { hasText: "18" }).waitFor();
  await pages[1]!.context().close();
});

test("choices are told with what each comes to, and what if moves the figures", async () => {
  shop.write("choices", SAUCER);
  const page = await shop.page();
  await openJob(page, "choices");
  await planned(page);
  await tab(page, "Route");
  const free = page.locator("details.choices", { hasText: "How the piece comes free" });
  await free.locator("summary").click();
  await free.getByRole("button", { name: "What would it come to?" }).click();
  await free.getByText(/the checks stay as they are|to watch|better|fails/).first().waitFor({ timeout: 120_000 });
  await free.scrollIntoViewIfNeeded();
  await shot(page, "choices");
  assert.deepEqual(await barriers(page), []);
  await free.getByRole("button", { name: "Choose it" }).click();
  await page.getByText("The plan is of an older text").waitFor();
  assert.match(shop.read("choices"), /freeing = "tabs"/);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("what is wrong is said where it is, and nothing is lost", async () => {
  shop.write("wrong", SAUCER);
  const page = await shop.page();
  await openJob(page, "wrong");
  const wall = page.getByLabel(/^Wall/).first();
  await wall.fill("-3 mm");
  await wall.press("Enter");
  await page.locator(".finding.error").first().waitFor();
  await page.locator(".field.error .wrong").first().waitFor();
  await shot(page, "mistake");
  assert.deepEqual(await barriers(page), []);
  await wall.fill("7 mm");
  await wall.press("Enter");
  await page.locator(".finding.error").waitFor({ state: "detached" });
  await page.getByRole("button", { name: "Open the text" }).click();
  const text = page.getByLabel("The job's text");
  await text.fill(SAUCER.replace("height", "hieght"));
  await page.getByRole("button", { name: "Save", exact: true }).click();
  await page.locator("dialog .finding.error", { hasText: "line 9" }).or(page.locator("dialog .finding.error", { hasText: "hieght" })).first().waitFor();
  await text.fill("title = \"no end");
  await page.getByRole("button", { name: "Save", exact: true }).click();
  await page.locator("dialog .finding.error").first().waitFor();
  assert.deepEqual(await barriers(page), []);
  await text.fill(SAUCER);
  await page.getByRole("button", { name: "Save", exact: true }).click();
  await page.locator(".finding.error").first().waitFor({ state: "detached" });
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("an edit in an editor shows at once; one that meets another is shown, and neither is lost", async () => {
  shop.write("shared", SAUCER);
  const page = await shop.page();
  await openJob(page, "shared");
  await seen(page);
  shop.write("shared", SAUCER.replace("\"14 mm\"", "\"15 mm\""));
  await page.getByText("was changed elsewhere").waitFor();
  await page.locator(".caption", { hasText: "15" }).waitFor();
  await page.getByRole("button", { name: "Open the text" }).click();
  const mine = SAUCER.replace("Saucer", "Mine");
  await page.getByLabel("The job's text").fill(mine);
  const theirs = SAUCER.replace("Saucer", "Theirs");
  shop.write("shared", theirs);
  await page.getByRole("heading", { level: 1, name: "Theirs", includeHidden: true }).waitFor();
  await page.getByRole("button", { name: "Save", exact: true }).click();
  const clash = page.getByRole("dialog", { name: "The file was changed elsewhere" });
  await clash.waitFor();
  assert.equal(shop.read("shared"), theirs);
  await shot(page, "conflict");
  assert.deepEqual(await barriers(page), []);
  await clash.getByRole("button", { name: "Write mine over it" }).click();
  await page.getByRole("heading", { level: 1, name: "Mine" }).waitFor();
  assert.equal(shop.read("shared"), mine);
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a size is pulled where it is seen", async () => {
  shop.write("pulled", SAUCER);
  const page = await shop.page();
  await openJob(page, "pulled");
  await seen(page);
  const grip = page.locator(".grip", { hasText: "Length along the grain" });
  const box = (await grip.boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  for (let k = 1; k <= 12; k++) await page.mouse.move(box.x + box.width / 2 + 6 * k, box.y + box.height / 2 + k);
  await grip.locator("b").waitFor();
  await shot(page, "pulled");
  await page.mouse.up();
  await page.waitForFunction(() => !document.querySelector(".caption")?.textContent?.includes("70.0"));
  const length = Number(/length = "([\d.]+) mm"/.exec(shop.read("pulled"))![1]);
  assert.ok(length > 75 && length < 140, `${length}`);
  assert.equal(shop.read("pulled"), SAUCER.replace("70 mm", `${length} mm`));
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("a copy beside the first shows what differs", async () => {
  shop.write("first", SAUCER);
  const page = await shop.page();
  await openJob(page, "first");
  await seen(page);
  await page.getByLabel("Keep a copy named").fill("Second");
  await page.getByRole("button", { name: "Keep it" }).click();
  await page.getByText("They differ in nothing but their names").waitFor();
  assert.equal(shop.read("Second"), SAUCER.replace("title = \"Saucer\"", "title = \"Second\""));
  const height = page.getByLabel("Height", { exact: true });
  await height.fill("20 mm");
  await height.press("Enter");
  const row = page.getByRole("row", { name: /^Height/ });
  await row.waitFor();
  assert.deepEqual(await row.getByRole("cell").allInnerTexts(), ["20 mm", "14 mm"]);
  await page.getByRole("row", { name: /^Wood in it/ }).waitFor();
  await shot(page, "beside");
  assert.deepEqual(await barriers(page), []);
  await page.getByRole("button", { name: "Take it away" }).click();
  await row.waitFor({ state: "detached" });
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("the next edit stops a plan", async () => {
  shop.write("long", TIDEPOOL);
  const page = await shop.page();
  await openJob(page, "long");
  await page.getByRole("button", { name: "Plan the making" }).first().click();
  await page.getByRole("progressbar").waitFor();
  await shot(page, "planning");
  const wall = page.getByLabel(/^Wall/).first();
  await wall.fill("6.5 mm");
  await wall.press("Enter");
  await page.getByRole("progressbar").waitFor({ state: "detached" });
  await page.getByRole("button", { name: "Plan the making" }).first().waitFor();
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("everything can be done from the keyboard", async () => {
  shop.write("keys", SAUCER);
  const page = await shop.page();
  await page.goto(shop.address);
  const focus = async (what: () => Promise<boolean>) => {
    for (let k = 0; k < 120; k++) {
      if (await what()) return;
      await page.keyboard.press("Tab");
    }
    assert.fail("the keyboard does not get there");
  };
  const on = (part: string) => page.evaluate((part) => document.activeElement !== document.body && (document.activeElement?.textContent ?? "").includes(part) || (document.activeElement?.getAttribute("aria-label") ?? "").includes(part), part);
  await page.getByRole("button", { name: /keys\/job/ }).waitFor();
  await focus(() => on("keys/job.toml"));
  await page.keyboard.press("Enter");
  await seen(page);
  await focus(() => on("The piece in space"));
  const stood = await page.locator(".stage").screenshot();
  for (let k = 0; k < 6; k++) await page.keyboard.press("ArrowRight");
  await page.waitForTimeout(600);
  assert.notDeepEqual(await page.locator(".stage").screenshot(), stood, "arrow keys turn it");
  await focus(() => on("Height, slider"));
  await page.keyboard.press("ArrowRight");
  await page.locator(".caption", { hasText: "14.5" }).waitFor();
  await page.keyboard.press("Control+z");
  await page.locator(".caption:not(:has-text('14.5'))", { hasText: "14" }).waitFor();
  assert.equal(shop.read("keys"), SAUCER);
  await page.keyboard.press("Shift+Tab");
  await focus(() => on("Open the text"));
  await page.keyboard.press("Enter");
  await page.getByRole("dialog").waitFor();
  await page.keyboard.press("Escape");
  await page.getByRole("dialog").waitFor({ state: "detached" });
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("phone, tablet and desk, by day and by night", async () => {
  shop.write("wide", TIDEPOOL.replace("\"190 mm\"", "\"400 mm\"").replace("\"52 mm\"", "\"80 mm\"").replace("\"35 mm\"", "\"70 mm\""));
  for (const [name, width, height] of [["phone", 390, 844], ["tablet", 820, 1180], ["desk", 1440, 900]] as const) {
    for (const colorScheme of ["light", "dark"] as const) {
      const page = await shop.page({ viewport: { width, height }, colorScheme, hasTouch: name !== "desk" });
      await page.goto(shop.address);
      await page.getByRole("heading", { name: "Begin a job" }).waitFor();
      assert.deepEqual(await barriers(page), [], `${name} ${colorScheme}`);
      for (const id of ["saucer", "wide"]) {
        await openJob(page, id);
        await page.locator(".caption", { hasText: id === "wide" ? "400" : "70" }).waitFor();
        await seen(page);
        await shot(page, `${name}-${colorScheme}-${id}`);
        assert.deepEqual(await barriers(page), [], `${name} ${colorScheme}`);
        const over = await page.evaluate(() => document.documentElement.scrollWidth - document.documentElement.clientWidth);
        assert.ok(over <= 0, `${name}: ${over} pixels beyond the side`);
        for (const view of ["Route", "Proof", "Papers"]) {
          await tab(page, view);
          await page.locator(".card").getByRole("heading").first().waitFor();
          assert.deepEqual(await barriers(page), [], `${name} ${colorScheme} ${view}`);
          await shot(page, `${name}-${colorScheme}-${id}-${view.toLowerCase()}`);
        }
      }
      const small = await page.evaluate(() => [...document.querySelectorAll("button, a, select, input")].filter((one) => {
        const box = one.getBoundingClientRect();
        return box.width > 0 && (box.height < 40 || box.width < 24);
      }).map((one) => one.outerHTML.slice(0, 100)));
      assert.deepEqual(small, [], `${name}: too small to hit with a dusty finger`);
      assert.deepEqual(page.faults, []);
      await page.context().close();
    }
  }
});

test("the page goes on by itself when the server comes back", async () => {
  shop.write("again", SAUCER);
  const page = await shop.page();
  await openJob(page, "again");
  await seen(page);
  assert.equal(await shop.close(), 0, "Ctrl-C ends it in order, though a page listens");
  await page.getByText("The server does not answer").waitFor();
  shop.write("again", SAUCER.replace("\"14 mm\"", "\"17 mm\""));
  await shop.open();
  await page.getByText("The server does not answer").waitFor({ state: "detached" });
  await page.locator(".caption", { hasText: "17" }).waitFor();
  assert.deepEqual(page.faults, []);
  await page.context().close();
});

test("how quick it is (told, not judged)", async (context) => {
  shop.write("quick", TIDEPOOL);
  const page = await shop.page();
  await openJob(page, "quick");
  await seen(page);
  const first = await page.evaluate(() => performance.getEntriesByName("first picture")[0]!.startTime);
  const box = (await page.locator(".stage").boundingBox())!;
  await page.mouse.move(box.x + box.width / 2, box.y + box.height / 2);
  await page.mouse.down();
  await page.evaluate(() => {
    const frames: number[] = [];
    const tick = (time: number) => {
      frames.push(time);
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
    Object.assign(globalThis, { frames });
  });
  for (let k = 0; k < 120; k++) {
    await page.mouse.move(box.x + box.width / 2 + 100 * Math.sin(k / 9), box.y + box.height / 2 + 30 * Math.cos(k / 13));
    await page.waitForTimeout(16);
  }
  await page.mouse.up();
  const rate = await page.evaluate(() => {
    const { frames } = globalThis as unknown as { frames: number[] };
    const late = frames.slice(Math.floor(frames.length / 4));
    return (1000 * (late.length - 1)) / (late.at(-1)! - late[0]!);
  });
  const previews = await page.evaluate(async () => {
    const times: number[] = [];
    for (let k = 0; k < 8; k++) {
      const start = performance.now();
      const set = [{ path: "piece.height", to: { as: "mm", value: 50 + k / 2 } }];
      await (await fetch("/api/preview?job=quick", { method: "POST", headers: { "content-type": "application/json" }, body: JSON.stringify({ set, pours: false }) })).arrayBuffer();
      times.push(performance.now() - start);
    }
    return times.sort((a, b) => a - b)[4]!;
  });
  context.diagnostic(`first picture ${first.toFixed(0)} ms after the load began; turning ${rate.toFixed(0)} frames a second at 1280 × 800; a changed shape ${previews.toFixed(0)} ms`);
  await page.context().close();
});
