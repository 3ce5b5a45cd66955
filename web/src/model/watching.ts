// A carving that is being watched: which, at what time, how fast.
import { batch, signal } from "@preact/signals";
import * as ask from "../wire/ask";
import { type Carving, blockFrom, momentAt, readCarving } from "./carving";
import { job, tried } from "./state";

/** The setup whose carving is watched, and the carving once it is there. */
export const carving = signal<{ setup: string; of: Carving | null } | null>(null);
/** Time since its first program began, s. */
export const seconds = signal(0);
export const playing = signal(false);
/** Times as fast as the machine. */
export const speed = signal(60);
export const SPEEDS = [1, 10, 60, 200, 1000];
/** Lines of each of its programs; `null` where they are withheld. */
export const texts = signal<(string[] | null)[]>([]);
/** The film is shown in the place of the sheet. */
export const filming = signal(false);

/** Begins to watch. */
export async function watchCarving(setup: string): Promise<void> {
  const id = job.value?.id;
  if (id === undefined) return;
  batch(() => {
    carving.value = { setup, of: null };
    seconds.value = 0;
    texts.value = [];
  });
  const bytes = await tried(ask.carving(id, setup));
  if (carving.value?.setup !== setup || job.value?.id !== id) return;
  if (!bytes) return leaveCarving();
  const of = readCarving(bytes);
  carving.value = { setup, of };
  const lines = await Promise.all(of.head.files.map((file) => ask.packBytes(id, file).then((text) => new TextDecoder().decode(text).split("\n"), () => null)));
  if (carving.value?.of === of) texts.value = lines;
}

/** Back to the pictures. */
export function leaveCarving(): void {
  batch(() => {
    carving.value = null;
    playing.value = false;
    texts.value = [];
  });
}

/** Plays from here, from the start if it is at its end, or stops. */
export function play(on: boolean): void {
  const of = carving.value?.of;
  if (!of) return;
  if (on && seconds.value >= of.head.seconds) seconds.value = 0;
  playing.value = on;
}

/** So many seconds have passed before the eyes. */
export function passed(by: number): void {
  const of = carving.value?.of;
  if (!of) return;
  seconds.value = Math.min(of.head.seconds, seconds.value + by * speed.value);
  if (seconds.value >= of.head.seconds) playing.value = false;
}

/** One block of the program on or back. */
export function stepBlock(by: -1 | 1): void {
  const of = carving.value?.of;
  if (!of) return;
  batch(() => {
    playing.value = false;
    seconds.value = blockFrom(of, seconds.value, by);
  });
}

/** The moment that is shown: the one that runs, or the one that has just ended. */
export function shownMoment(of: Carving): number {
  const k = momentAt(of, seconds.value);
  return k > 0 && of.ends[k - 1]! >= seconds.value ? k - 1 : k;
}
