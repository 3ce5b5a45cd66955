// A shop for a journey: a folder of jobs, the server on it, and Debian's Chromium.
import { type ChildProcess, spawn } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { createRequire } from "node:module";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type Browser, type BrowserContextOptions, type Page, chromium } from "playwright-core";

const target = process.env.CARGO_TARGET_DIR ?? "../target";
const built = ["release", "debug"].map((profile) => join(target, profile, "treen"));
const PROGRAM = process.env.TREEN ?? built.find((path) => existsSync(path));
const BROWSER = process.env.CHROMIUM ?? ["/usr/bin/chromium", "/usr/bin/chromium-browser"].find((path) => existsSync(path));

export const SAUCER = readFileSync("../crates/treen/tests/cases/saucer.toml", "utf8");
export const TIDEPOOL = readFileSync("../examples/tidepool/job.toml", "utf8");

export class Shop {
  readonly folder = mkdtempSync(join(tmpdir(), "treen-journey-"));
  address = "";
  private server: ChildProcess | undefined;
  private browser: Browser | undefined;

  constructor(jobs: Record<string, string>) {
    for (const [id, text] of Object.entries(jobs)) this.write(id, text);
  }

  write(id: string, text: string): void {
    mkdirSync(join(this.folder, id), { recursive: true });
    writeFileSync(join(this.folder, id, "job.toml"), text);
  }

  read(id: string): string {
    return readFileSync(join(this.folder, id, "job.toml"), "utf8");
  }

  /** Starts the server, on the port it had before if it ran already. */
  async open(): Promise<void> {
    if (!PROGRAM) throw new Error("build the program first: cargo build --release");
    const port = this.address ? new URL(this.address).port : "0";
    // Columns coarser than for real work: these look at the page, not at the piece.
    this.server = spawn(PROGRAM, ["serve", this.folder, "--port", port, "--pitch", "0.5"], { stdio: ["ignore", "pipe", "inherit"] });
    let said = "";
    this.address = await new Promise<string>((found, failed) => {
      this.server!.stdout!.on("data", (bytes: Buffer) => {
        said += bytes.toString();
        const address = /http:\/\/\S+/.exec(said)?.[0];
        if (address) found(address);
      });
      this.server!.once("exit", () => failed(new Error(`the server ended: ${said}`)));
    });
  }

  /** Stops the server as Ctrl-C does, and waits until it has ended. */
  async close(): Promise<number | null> {
    const server = this.server;
    this.server = undefined;
    if (!server || server.exitCode !== null) return server?.exitCode ?? null;
    return new Promise((ended) => {
      server.once("exit", ended);
      server.kill("SIGINT");
    });
  }

  /** A page of its own. What it says in its log, or asks of any other address, is gathered. */
  async page(options: BrowserContextOptions = {}): Promise<Page & { faults: string[] }> {
    if (!BROWSER) throw new Error("install the browser first: apt-get install chromium");
    const args = ["--no-sandbox", "--disable-quic", "--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync"];
    this.browser ??= await chromium.launch({ executablePath: BROWSER, args: [...args, "--enable-unsafe-swiftshader"] });
    const context = await this.browser.newContext({ viewport: { width: 1280, height: 800 }, acceptDownloads: true, ...options });
    const page = await context.newPage();
    page.setDefaultTimeout(60_000);
    const faults: string[] = [];
    page.on("console", (message) => {
      if (message.type() === "error" && !/ERR_(CONNECTION_REFUSED|INCOMPLETE_CHUNKED|EMPTY_RESPONSE|CONNECTION_RESET)|409 \(Conflict\)/.test(message.text())) faults.push(message.text());
    });
    page.on("pageerror", (error) => faults.push(String(error)));
    page.on("request", (request) => {
      if (!request.url().startsWith(`${this.address}/`) && !/^(data|blob):/.test(request.url())) faults.push(`asked ${request.url()}`);
    });
    return Object.assign(page, { faults });
  }

  async end(): Promise<void> {
    await this.browser?.close();
    await this.close();
    rmSync(this.folder, { recursive: true, force: true });
  }
}

const AXE = readFileSync(createRequire(join(process.cwd(), "package.json")).resolve("axe-core/axe.min.js"), "utf8");

/** Serious faults of accessibility, as axe-core finds them. */
export async function barriers(page: Page): Promise<string[]> {
  // The page lets no script in but its own, so it is run as the browser's own, not as an element.
  await page.evaluate(AXE);
  return page.evaluate(async () => {
    const axe = (globalThis as unknown as { axe: { run: (on: unknown, options: unknown) => Promise<{ violations: { id: string; impact: string; nodes: { html: string; failureSummary: string }[] }[] }> } }).axe;
    const found = await axe.run(document, { resultTypes: ["violations"], iframes: false });
    return found.violations.filter((one) => one.impact === "serious" || one.impact === "critical")
      .flatMap((one) => one.nodes.map((node) => `${one.id}: ${node.html.slice(0, 160)} ${node.failureSummary}`));
  });
}

/** Keeps what the page looks like, to look at. */
export async function shot(page: Page, name: string): Promise<void> {
  mkdirSync("out/shots", { recursive: true });
  await page.waitForTimeout(400);
  await page.screenshot({ path: `out/shots/${name}.png` });
}
