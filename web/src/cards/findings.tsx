// What is wrong, with its place and what to do.
import type { FindingView } from "../wire/wire";

const WORDS: Record<string, string> = { error: "To mend", warning: "Look at this", note: "Worth knowing" };

export function Findings({ list }: { list: readonly FindingView[] }) {
  if (list.length === 0) return null;
  return (
    <ul class="findings" aria-label="What is wrong">
      {list.map((finding) => (
        <li key={`${finding.code} ${finding.text}`} class={`finding ${finding.severity}`}>
          <strong>{WORDS[finding.severity]}{finding.line != null && <>, line {finding.line}</>}</strong>
          <p>{finding.text.charAt(0).toUpperCase() + finding.text.slice(1)}</p>
          {finding.hint && <p><b>What to do:</b> {finding.hint}</p>}
        </li>
      ))}
    </ul>
  );
}
