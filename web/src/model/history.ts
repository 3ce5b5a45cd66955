// Undo and redo without end: every text the job had since the page was opened, also those that came from an editor.

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
