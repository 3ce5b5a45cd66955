// Undo and redo without end: every text the job had since the page was opened, also those that came from an editor. It
// outlives a reload.

export interface History {
  readonly texts: readonly string[];
  readonly at: number;
}

export const begun = (text: string): History => ({ texts: [text], at: 0 });

/** After a change: what was undone before it is gone. */
export function changed(history: History, text: string): History {
  if (history.texts[history.at] === text) return history;
  return { texts: [...history.texts.slice(0, history.at + 1), text], at: history.at + 1 };
}

/** One step back (−1) or forward (1), as far as there is one. */
export function moved(history: History, by: -1 | 1): History | null {
  const at = history.at + by;
  return at >= 0 && at < history.texts.length ? { ...history, at } : null;
}

export const text = (history: History): string => history.texts[history.at]!;

/** As it is kept over a reload: the newest texts that fit. */
export function kept(history: History, most: number): string {
  let first = history.texts.length;
  for (let room = most; first > 0 && (room -= history.texts[first - 1]!.length) >= 0; ) first--;
  first = Math.min(first, history.at);
  return JSON.stringify({ texts: history.texts.slice(first), at: history.at - first });
}

/** The history of a job whose text is this now, from what was kept of it. */
export function resumed(kept: string | null, now: string): History {
  try {
    const { texts, at } = JSON.parse(kept ?? "null") as History;
    if (texts.every((one) => typeof one === "string") && typeof texts[at] === "string") return changed({ texts, at }, now);
  } catch {
    // Nothing was kept, or something else.
  }
  return begun(now);
}
