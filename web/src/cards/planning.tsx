// How far the plan is, and the one button that starts it.
import { counted } from "../model/making";
import { plan, stale, startPlan, stopPlan, work } from "../model/state";
import { StateMark } from "./marks";

/** The line at the top of the page. */
export function PlanLine() {
  const now = work.value;
  return (
    <div class="plan-line" role="status">
      {now.is === "waiting" && <><span>Waits for another plan</span><StopButton /></>}
      {now.is === "working" && (
        <>
          <span class="working">
            <span>{now.stage.charAt(0).toUpperCase() + now.stage.slice(1)}</span>
            <progress max={1} value={now.done} aria-label="How far the stage is" />
          </span>
          <StopButton />
        </>
      )}
      {now.is === "planned" && !stale.value && <Verdict />}
      {now.is === "planned" && stale.value && <><span>The plan is of an older text</span><PlanButton again /></>}
      {now.is === "refused" && <><span>It can’t be planned so</span><PlanButton again /></>}
      {now.is === "fault" && <><span>Treen has made a mistake</span><PlanButton again /></>}
      {now.is === "idle" && <PlanButton />}
    </div>
  );
}

function Verdict() {
  const count = counted(plan.value?.checks ?? []);
  const state = count.fails > 0 ? "fails" : count.watch > 0 ? "watch" : "holds";
  const words = count.fails > 0 ? `${count.fails} ${count.fails === 1 ? "check fails" : "checks fail"}`
    : count.watch > 0 ? `Planned; ${count.watch} to watch` : "Planned; every check holds";
  return <span class="verdict"><StateMark state={state} /> {words}</span>;
}

export function PlanButton({ again = false }: { again?: boolean }) {
  return <button type="button" class="main" onClick={() => void startPlan()}>{again ? "Plan again" : "Plan the making"}</button>;
}

function StopButton() {
  return <button type="button" onClick={() => void stopPlan()}>Stop</button>;
}

/** What stands on a card that needs a plan while there is none. */
export function NoPlan({ what }: { what: string }) {
  const now = work.value;
  return (
    <>
      <h2>Not planned yet</h2>
      <p class="lead">{what}</p>
      {now.is === "working" && <p>It is being planned; you can go on shaping, which stops it.</p>}
      {now.is === "fault" && <p class="finding error"><strong>{now.text}.</strong> The job is not to blame. Please report it, with the job and the shelf.</p>}
      {(now.is === "idle" || now.is === "refused") && <p><PlanButton again={now.is === "refused"} /></p>}
    </>
  );
}
