// Marks of a verdict: each has its own form and its word, so that nothing depends on telling colours apart.
import type { State } from "../wire/wire";

export const STATE_WORDS: Record<State, string> = { holds: "holds", watch: "to watch", fails: "fails" };

export function StateMark({ state }: { state: State }) {
  return (
    <svg class={`mark ${state}`} viewBox="0 0 20 20" width="20" height="20" role="img" aria-label={STATE_WORDS[state]}>
      {state === "holds" && <><circle cx="10" cy="10" r="8.5" /><path d="M5.8 10.4l2.9 2.9 5.5-6.2" /></>}
      {state === "watch" && <><path d="M10 2L19 17.5H1Z" /><path d="M10 7.6v4.6M10 14.6v.6" /></>}
      {state === "fails" && <><rect x="1.8" y="1.8" width="16.4" height="16.4" rx="2" /><path d="M6 6l8 8M14 6l-8 8" /></>}
    </svg>
  );
}
