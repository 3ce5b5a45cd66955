// Asking the server. Every answer is either what was asked for, a conflict, or trouble in words.
import type {
  ChoicesView, ChooseAsk, ConflictView, Edit, FolderView, JobView, MapView, NewJob, PlanDoc, PutAt, ReckonAsk, SaveEdits, SaveText, TroubleView, WhatIfAsk, WhatIfView, WorkView,
} from "./wire";

/** The server refused, or can't be reached. */
export class Trouble extends Error {
  constructor(readonly view: TroubleView) {
    super(view.error);
  }
}

/** The file has changed meanwhile; nothing was written. */
export class Conflict extends Error {
  constructor(readonly now: JobView) {
    super("the file has changed meanwhile");
  }
}

const of = (job: string) => `job=${encodeURIComponent(job)}`;

async function send(method: string, path: string, body?: unknown, stop?: AbortSignal): Promise<Response> {
  const request: RequestInit = { method, ...(stop && { signal: stop }) };
  if (body instanceof Blob) {
    request.headers = { "content-type": "application/octet-stream" };
    request.body = body;
  } else if (method !== "GET") {
    request.headers = { "content-type": "application/json" };
    request.body = JSON.stringify(body ?? null);
  }
  let answer: Response;
  try {
    answer = await fetch(path, request);
  } catch (why) {
    if (stop?.aborted) throw why;
    throw new Trouble({ error: "the server can’t be reached", hint: "look whether `treen serve` still runs" });
  }
  if (answer.status === 409) throw new Conflict(((await answer.json()) as ConflictView).now);
  if (!answer.ok) {
    const view = await answer.json().catch(() => null);
    throw new Trouble((view as TroubleView | null) ?? { error: `the server answered ${answer.status}`, hint: "try it again" });
  }
  return answer;
}

const read = async <T>(answer: Promise<Response>): Promise<T> => (await answer).json() as Promise<T>;

/** Jobs and examples. */
export const folder = () => read<FolderView>(send("GET", "/api/jobs"));
/** A job as it stands in its file. */
export const job = (id: string) => read<JobView>(send("GET", `/api/job?${of(id)}`));
/** Begins a job. */
export const begin = (wish: NewJob) => read<PutAt>(send("POST", "/api/jobs", wish));
/** Begins a job with a drawing or a solid. */
export const beginWith = (name: string, file: File) => read<PutAt>(send("POST", `/api/brought?name=${encodeURIComponent(name)}&file=${encodeURIComponent(file.name)}`, file));
/** Saves changes of single values. */
export const saveEdits = (id: string, wish: SaveEdits) => read<JobView>(send("POST", `/api/edit?${of(id)}`, wish));
/** Saves a whole text. */
export const saveText = (id: string, wish: SaveText) => read<JobView>(send("POST", `/api/text?${of(id)}`, wish));
/** Starts planning. */
export const plan = (id: string) => read<WorkView>(send("POST", `/api/plan?${of(id)}`));
/** Stops planning. */
export const stopPlan = (id: string) => read<WorkView>(send("DELETE", `/api/plan?${of(id)}`));
/** Writes the pack beside the job. */
export const keep = (id: string) => read<PutAt>(send("POST", `/api/keep?${of(id)}`));
/** The document of a finished plan. */
export const planDoc = (id: string) => read<PlanDoc>(send("GET", packFile(id, "plan.json")));
/** Bytes of a file of the pack. */
export const packBytes = async (id: string, file: string) => (await send("GET", packFile(id, file))).arrayBuffer();
/** The piece with changes that are not saved; with `pours` also how its resin is poured, which takes seconds. */
export const preview = async (id: string, set: Edit[], pours: boolean, stop: AbortSignal) =>
  (await send("POST", `/api/preview?${of(id)}`, { set, pours }, stop)).arrayBuffer();
/** What can be chosen, with what is known of each possibility. */
export const choices = (id: string) => read<ChoicesView>(send("GET", `/api/choices?${of(id)}`));
/** Asks what possibilities come to. */
export const reckon = (id: string, wish: ReckonAsk) => read<ChoicesView>(send("POST", `/api/choices?${of(id)}`, wish));
/** Settles a possibility for the shop. */
export const choose = (id: string, wish: ChooseAsk) => read<JobView>(send("POST", `/api/choose?${of(id)}`, wish));
/** The map of a check, or none. */
export const mapOf = (id: string, check: string) => read<MapView>(send("GET", `/api/map?${of(id)}&check=${encodeURIComponent(check)}`));
/** What other errors of the turning over and another warmth would do. */
export const whatIf = (id: string, wish: WhatIfAsk) => read<WhatIfView>(send("POST", `/api/what-if?${of(id)}`, wish));
/** The carving of a setup, move by move. */
export const carving = async (id: string, setup: string) => (await send("GET", `/api/carving?${of(id)}&setup=${encodeURIComponent(setup)}`)).arrayBuffer();

/** Address of a file of the pack. */
export const packFile = (id: string, file: string) => `/api/pack/${file.split("/").map(encodeURIComponent).join("/")}?${of(id)}`;
/** Address of the whole pack. */
export const packZip = (id: string) => `/api/zip?${of(id)}`;
/** Address of the film of the making. */
export const filmOf = (id: string) => `/api/film?${of(id)}`;
