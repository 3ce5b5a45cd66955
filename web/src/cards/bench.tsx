// The whole page: a line at the top, the workpiece large, the strip beneath it, the card beside it.
import { useEffect } from "preact/hooks";
import { VIEWS, clash, job, online, open, canRedo, canUndo, stepInTime, told, trouble, view } from "../model/state";
import { Centre } from "./centre";
import { ClashCard } from "./clash";
import { PapersCard } from "./papers";
import { PlanLine } from "./planning";
import { ProofCard } from "./proof";
import { RouteCard } from "./route";
import { ShapeCard } from "./shape";
import { Start } from "./start";
import { Strip } from "./strip";

const NAMES = { shape: "Shape", route: "Route", proof: "Proof", papers: "Papers" } as const;
const CARDS = { shape: ShapeCard, route: RouteCard, proof: ProofCard, papers: PapersCard } as const;

export function Bench() {
  const Card = CARDS[view.value];
  return (
    <>
      <Notices />
      {job.value === null ? <Start /> : (
        <div class={`bench view-${view.value}`}>
          <header class="top">
            <button type="button" class="back" onClick={() => { location.hash = ""; void open(null); }} aria-label="All jobs of the folder">
              <span aria-hidden="true">‹</span> Jobs
            </button>
            <h1>{job.value.title}</h1>
            <nav aria-label="Views">
              {VIEWS.map((name) => (
                <button type="button" key={name} class="tab" aria-current={view.value === name ? "page" : undefined} onClick={() => { view.value = name; }}>
                  {NAMES[name]}
                </button>
              ))}
            </nav>
            <span class="steps-back">
              <button type="button" disabled={!canUndo.value} onClick={() => void stepInTime(-1)}>Undo</button>
              <button type="button" disabled={!canRedo.value} onClick={() => void stepInTime(1)}>Redo</button>
            </span>
            <PlanLine />
          </header>
          <main>
            <Centre />
            <Strip />
            <article class="card" aria-label={`${NAMES[view.value]} of ${job.value.title}`}><Card /></article>
          </main>
        </div>
      )}
      {clash.value && <ClashCard />}
    </>
  );
}

/** How long good news stay, ms. */
const STAYS = 8000;

function Notices() {
  useEffect(() => {
    const gone = setTimeout(() => { told.value = ""; }, STAYS);
    return () => clearTimeout(gone);
  }, [told.value]);
  return (
    <div class="notices" aria-live="polite">
      {!online.value && <p class="notice warn">The server does not answer. What you see may be old; this page goes on by itself once it is there again.</p>}
      {trouble.value && (
        <p class="notice bad">
          <span><strong>{sentence(trouble.value.error)}</strong> What to do: {trouble.value.hint}.</span>
          <button type="button" onClick={() => { trouble.value = null; }}>Close</button>
        </p>
      )}
      {told.value && (
        <p class="notice">
          <span>{told.value}</span>
          <button type="button" onClick={() => { told.value = ""; }}>Close</button>
        </p>
      )}
    </div>
  );
}

const sentence = (text: string) => `${text.charAt(0).toUpperCase()}${text.slice(1)}${text.endsWith(".") ? "" : "."}`;
