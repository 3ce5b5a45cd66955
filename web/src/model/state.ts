// What the page knows, and everything that can be done with it. The files behind the server are the truth: this only
// holds what was read from them last.
import { batch, computed, effect, signal } from "@preact/signals";
import * as ask from "../wire/ask";
import type { Edit, Event as News, FolderView, JobView, PlanDoc, TroubleView, WorkView } from "../wire/wire";
import { type History, changed, kept, moved, resumed, text as textAt } from "./history";
import { frameAt, framesOf } from "./making";
import { type Picture, readPicture } from "./preview";

export const VIEWS = ["shape", "route", "proof", "papers"] as const;
export type View = (typeof VIEWS)[number];

/** A change that met a file changed elsewhere. */
export type Clash = { now: JobView } & ({ edits: Edit[] } | { text: string });

/** The fact that stands beneath the picture. */
export const SIZE = "Size";

export const folder = signal<FolderView | null>(null);
export const job = signal<JobView | null>(null);
export const view = signal<View>("shape");
export const picture = signal<Picture | null>(null);
/** Another job of the folder, beside this one. */
export const other = signal<{ job: JobView; picture: Picture } | null>(null);
/** A change is shown that is not saved yet. */
export const shaping = signal(false);
export const plan = signal<PlanDoc | null>(null);
/** Sources the plan at hand was made from. */
const planOf = signal("");
export const step = signal(0);
export const check = signal<string | null>(null);
export const clash = signal<Clash | null>(null);
export const trouble = signal<TroubleView | null>(null);
export const told = signal("");
export const online = signal(true);
const history = signal<History | null>(null);

/** Where steps are kept over a reload, as long as the tab is open, characters of texts at most. */
const shelf = (globalThis as { sessionStorage?: Storage }).sessionStorage;
const MOST_KEPT = 1_500_000;
const keptAs = (id: string) => `steps of ${id}`;
effect(() => {
  const [steps, id] = [history.value, job.value?.id];
  if (!steps || id === undefined) return;
  try {
    shelf?.setItem(keptAs(id), kept(steps, MOST_KEPT));
  } catch {
    // No room in this browser: undo then ends at the reload.
  }
});

export const units = computed(() => (job.value?.units === "in" ? "in" : "mm"));
export const work = computed<WorkView>(() => job.value?.work ?? { is: "idle" });
export const files = computed(() => (work.value.is === "planned" ? work.value.files : []));
export const frames = computed(() => (plan.value ? framesOf(plan.value, files.value.map((file) => file.path)) : []));
export const frame = computed(() => frameAt(frames.value, step.value));
/** The plan at hand is of an older text. */
export const stale = computed(() => plan.value !== null && planOf.value !== job.value?.sources);
export const canUndo = computed(() => history.value !== null && moved(history.value, -1) !== null);
export const canRedo = computed(() => history.value !== null && moved(history.value, 1) !== null);
/** What is wrong: with the text, and with the shape it describes. */
export const findings = computed(() => {
  const of = picture.value?.head.findings ?? [];
  return of.length > 0 ? of : (job.value?.findings ?? []);
});

/** Runs something that asks the server; what goes wrong is told on the page. */
export async function tried<T>(work: Promise<T>): Promise<T | null> {
  try {
    const result = await work;
    trouble.value = null;
    return result;
  } catch (why) {
    if (why instanceof ask.Trouble) trouble.value = why.view;
    else trouble.value = { error: why instanceof Error ? why.message : String(why), hint: "load the page again" };
    return null;
  }
}

/** Looks at the folder anew. */
export async function lookAround(): Promise<void> {
  const found = await tried(ask.folder());
  if (found) folder.value = found;
}

/** Opens a job, or goes back to the folder. */
export async function open(id: string | null): Promise<void> {
  if (id === null) {
    batch(() => {
      job.value = null;
      forget();
    });
    return;
  }
  // The picture is asked for along with the text, so that neither waits for the other.
  const ahead = ask.preview(id, [], false, new AbortController().signal).then(readPicture).catch(() => null);
  const found = await tried(ask.job(id));
  if (!found) return;
  batch(() => {
    forget();
    history.value = resumed(shelf?.getItem(keptAs(found.id)) ?? null, found.text);
    job.value = found;
  });
  void takePlan();
  const first = await ahead;
  if (job.value?.id !== id || job.value.version !== found.version) return;
  if (!first) return show([]);
  picture.value = first;
  void reckon();
}

function forget(): void {
  picture.value = null;
  plan.value = null;
  planOf.value = "";
  step.value = 0;
  check.value = null;
  clash.value = null;
  history.value = null;
  other.value = null;
}

/** Takes a job as it stands now; its text is the newest there is. */
function take(now: JobView): void {
  batch(() => {
    if (history.value) history.value = changed(history.value, now.text);
    job.value = now;
    clash.value = null;
  });
  show([]);
}

/** A job that was changed in another way than by its text, as it stands now. */
export const takeNow = take;

let showing: AbortController | null = null;
let wanted: Edit[] | null = null;

/** Shows the piece with changes that are not saved. Only the newest wish is asked for, one at a time. */
export function show(edits: Edit[]): void {
  wanted = edits;
  shaping.value = edits.length > 0;
  reckoning?.abort();
  if (showing === null) void follow();
}

let reckoning: AbortController | null = null;

/** How the resin is poured and cures takes seconds: it is asked for once the picture stands, and dropped at the next change. */
async function reckon(): Promise<void> {
  const id = job.value?.id;
  if (id === undefined) return;
  reckoning?.abort();
  const mine = (reckoning = new AbortController());
  try {
    const shown = readPicture(await ask.preview(id, [], true, mine.signal));
    if (!mine.signal.aborted && job.value?.id === id) picture.value = shown;
  } catch (why) {
    if (!mine.signal.aborted && !(why instanceof ask.Trouble)) throw why;
  }
}

async function follow(): Promise<void> {
  while (wanted !== null && job.value !== null) {
    const [id, edits] = [job.value.id, wanted];
    wanted = null;
    showing = new AbortController();
    try {
      const shown = readPicture(await ask.preview(id, edits, false, showing.signal));
      // A job that was left meanwhile is not shown.
      if (job.value?.id === id) picture.value = shown;
    } catch (why) {
      // A text that can't be read has no shape: its mistakes are told, and the last picture stands.
      if (!(why instanceof ask.Trouble)) throw why;
    }
  }
  showing = null;
  if (!shaping.value) void reckon();
}

/** Changes are sent one after the other, each against the version the one before has left. */
let saving: Promise<unknown> = Promise.resolve();

function inTurn<T>(work: () => Promise<T>): Promise<T> {
  const next = saving.then(work);
  saving = next.catch(() => undefined);
  return next;
}

async function saved(save: (id: string, basedOn: string) => Promise<JobView>, mine: { edits: Edit[] } | { text: string }, on?: JobView): Promise<boolean> {
  const now = on ?? job.value;
  if (!now) return false;
  try {
    take(await save(now.id, now.version));
    trouble.value = null;
    return true;
  } catch (why) {
    if (why instanceof ask.Conflict) clash.value = { now: why.now, ...mine };
    else if (why instanceof ask.Trouble) {
      trouble.value = why.view;
      show([]);
    } else throw why;
    return false;
  }
}

/** Saves changes of single values. */
export const saveEdits = (edits: Edit[], on?: JobView): Promise<boolean> =>
  inTurn(() => saved((id, version) => ask.saveEdits(id, { based_on: version, set: edits }), { edits }, on));

/** Saves a whole text. */
export const saveText = (text: string, on?: JobView): Promise<boolean> =>
  inTurn(() => saved((id, version) => ask.saveText(id, { based_on: version, text }), { text }, on));

/** One step back (−1) or forward (1). */
export const stepInTime = (by: -1 | 1): Promise<void> =>
  inTurn(async () => {
    const to = history.value && moved(history.value, by);
    if (!to) return;
    const text = textAt(to);
    if (await saved((id, version) => ask.saveText(id, { based_on: version, text }), { text })) history.value = to;
  });

/** After a clash: the file as it stands, or the change put into it. */
export async function settle(mine: boolean): Promise<void> {
  const met = clash.value;
  if (!met) return;
  clash.value = null;
  if (!mine) return take(met.now);
  if ("edits" in met) await saveEdits(met.edits, met.now);
  else await saveText(met.text, met.now);
}

/** Puts another job beside this one, or takes it away. */
export async function compare(id: string | null): Promise<void> {
  if (id === null) {
    other.value = null;
    return;
  }
  const both = await tried(Promise.all([ask.job(id), ask.preview(id, [], true, new AbortController().signal)]));
  if (both && job.value && job.value.id !== id) other.value = { job: both[0], picture: readPicture(both[1]) };
}

/** Begins a copy of this job under another name and puts it beside. */
export async function copyAs(name: string): Promise<void> {
  const now = job.value;
  const put = now && (await tried(ask.begin({ name, from: null, like: now.id })));
  if (!put) return;
  await lookAround();
  await compare(put.id);
}

/** Starts planning. */
export async function startPlan(): Promise<void> {
  const now = job.value;
  const begun = now && (await tried(ask.plan(now.id)));
  if (begun && job.value) job.value = { ...job.value, work: begun };
}

/** Stops planning. */
export async function stopPlan(): Promise<void> {
  const now = job.value;
  const left = now && (await tried(ask.stopPlan(now.id)));
  if (left && job.value) job.value = { ...job.value, work: left };
}

/** Fetches the document of a finished plan, if it is not the one at hand. */
async function takePlan(): Promise<void> {
  const now = job.value;
  if (!now || now.work.is !== "planned" || planOf.value === now.work.of) return;
  const of = now.work.of;
  const doc = await tried(ask.planDoc(now.id));
  if (doc && job.value?.id === now.id) {
    batch(() => {
      plan.value = doc;
      planOf.value = of;
      step.value = Math.min(step.value, doc.steps.length - 1);
    });
  }
}

/** Writes the pack into the folder. */
export async function keep(): Promise<void> {
  const now = job.value;
  const put = now && (await tried(ask.keep(now.id)));
  if (put) told.value = `The pack is in the folder ${put.id}.`;
}

/** Hears what happened behind the server. */
export async function hear(news: News): Promise<void> {
  const now = job.value;
  if (news.is === "hello" || news.is === "jobs") await lookAround();
  if (!now) return;
  const beside = other.value?.job;
  if (beside && news.is === "changed" && news.id === beside.id && news.sources !== beside.sources) await compare(beside.id);
  // What this page saves itself comes back as news, too, perhaps before the answer.
  await saving;
  if (news.is === "hello" || (news.is === "changed" && news.id === now.id && news.sources !== job.value?.sources)) {
    const found = await tried(ask.job(now.id));
    if (found && job.value?.id === found.id && (found.sources !== job.value.sources || news.is === "hello")) {
      const elsewhere = found.version !== job.value.version;
      if (found.sources !== job.value.sources) take(found);
      else job.value = found;
      if (elsewhere && news.is === "changed") told.value = `${found.file} was changed elsewhere; this is how it stands now.`;
      await takePlan();
    }
  }
  if (news.is === "work" && news.id === now.id && job.value) {
    job.value = { ...job.value, work: news.work };
    if (news.work.is === "planned") await takePlan();
  }
}
