// The strip: one true picture of the workpiece for each step that changes it, from boards to finished piece.
import { useEffect, useRef } from "preact/hooks";
import { frame, frames, job, plan, stale, step, view } from "../model/state";
import { packFile } from "../wire/ask";

export function Strip() {
  const list = useRef<HTMLOListElement>(null);
  const now = frame.value;
  useEffect(() => {
    list.current?.querySelector("[aria-current]")?.scrollIntoView({ block: "nearest", inline: "center" });
  }, [now?.step, view.value]);
  if (frames.value.length === 0) return null;
  const id = job.value!.id;
  return (
    <nav class={`strip${stale.value ? " old" : ""}`} aria-label="The making, step by step">
      <ol ref={list}>
        {frames.value.map((one) => (
          <li key={one.step}>
            <button
              type="button"
              aria-current={view.value === "route" && now?.step === one.step ? "step" : undefined}
              onClick={() => {
                step.value = one.step;
                view.value = "route";
              }}
            >
              <img src={packFile(id, one.picture)} alt="" loading="lazy" width="144" height="96" />
              <span><b>{one.step + 1}</b> {short(plan.value!.steps[one.step]!.title)}</span>
            </button>
          </li>
        ))}
      </ol>
    </nav>
  );
}

/** A title short enough for the strip. */
const short = (title: string) => title.split(/[:,]/)[0]!;
