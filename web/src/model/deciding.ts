// What can be chosen about the making, and what if: asked of the server, held until the job changes.
import { signal } from "@preact/signals";
import * as ask from "../wire/ask";
import type { ChoicesView, OptionView, Question, WhatIfAsk, WhatIfView } from "../wire/wire";
import { job, saveEdits, takeNow, tried } from "./state";

export const choices = signal<ChoicesView | null>(null);
export const whatIf = signal<WhatIfView | null>(null);

/** Looks at what can be chosen, with what is known of each possibility. */
export async function lookAtChoices(): Promise<void> {
  const id = job.value?.id;
  if (id === undefined) return;
  // A job with mistakes has nothing to choose; they are told elsewhere.
  const found = await ask.choices(id).catch(() => null);
  if (job.value?.id === id) choices.value = found;
}

/** Asks what possibilities come to. */
export async function reckonThese(keys: string[]): Promise<void> {
  const id = job.value?.id;
  const found = id === undefined ? null : await tried(ask.reckon(id, { keys }));
  if (found && job.value?.id === id) choices.value = found;
}

/** Chooses a possibility. */
export async function choose(question: Question, option: OptionView): Promise<void> {
  const [now, from] = [job.value, choices.value];
  if (!now || !from) return;
  if (!question.in_shop) return void (await saveEdits(option.set));
  const changed = await tried(ask.choose(now.id, { based_on: from.of, key: option.key }));
  if (changed) takeNow(changed);
}

let wanted: WhatIfAsk | null = null;
let asking = false;

/** What would be; only the newest wish is asked for, one at a time. */
export async function wonder(wish: WhatIfAsk): Promise<void> {
  wanted = wish;
  if (asking) return;
  asking = true;
  while (wanted !== null && job.value !== null) {
    const [id, now]: [string, WhatIfAsk] = [job.value.id, wanted];
    wanted = null;
    const found = await tried(ask.whatIf(id, now));
    if (found && job.value?.id === id) whatIf.value = found;
  }
  asking = false;
}
