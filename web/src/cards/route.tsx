// The card of one step, like a recipe card: what to do, with what, cautions, and the why of each figure.
import { amount, clock } from "../model/amounts";
import { timeOf } from "../model/making";
import { files, job, plan, stale, step, units } from "../model/state";
import { packFile } from "../wire/ask";
import type { PlanDoc, Step } from "../wire/wire";
import { Choices } from "./choices";
import { NoPlan } from "./planning";
import { Figure } from "./why";

export function RouteCard() {
  const doc = plan.value;
  if (!doc) return <NoPlan what="The route is every step from rough boards to the finished piece, with a picture of the workpiece after each, what to do, and why." />;
  const now = doc.steps[step.value]!;
  const last = doc.steps.length - 1;
  return (
    <>
      {stale.value && <p class="finding warning">The job has changed since this was planned.</p>}
      <div class="scrub">
        <button type="button" disabled={step.value === 0} onClick={() => { step.value -= 1; }} aria-label="The step before">‹</button>
        <input
          type="range" min={0} max={last} value={step.value} aria-label="Step of the making" aria-valuetext={`Step ${step.value + 1} of ${last + 1}: ${now.title}`}
          onInput={(event) => { step.value = event.currentTarget.valueAsNumber; }}
        />
        <button type="button" disabled={step.value === last} onClick={() => { step.value += 1; }} aria-label="The next step">›</button>
      </div>
      <p class="count">Step {step.value + 1} of {last + 1}</p>
      <h2 class="step-title">{now.title}</h2>
      <Times of={now} />
      {now.says.length > 0 && <ul class="ticks">{now.says.map((line) => <li key={line}>{line}</li>)}</ul>}
      {now.cautions.length > 0 && <div class="caution"><h3>Take care</h3>{now.cautions.map((line) => <p key={line}>{line}</p>)}</div>}
      {now.figures.length > 0 && <section class="group"><h2>Why</h2>{now.figures.map((id) => <Figure key={id} id={id} />)}</section>}
      {now.kind === "zero" && <ZeroTable doc={doc} of={now} />}
      {(now.kind === "carve" || now.kind === "level") && <Programs doc={doc} of={now} />}
      <Choices />
      <All doc={doc} />
    </>
  );
}

function Times({ of }: { of: Step }) {
  const parts = [of.hands_on_s > 0 && `hands ${clock(of.hands_on_s)}`, of.duration_s > of.hands_on_s && `all in all ${clock(of.duration_s)}`, of.wait_s > 0 && `then wait ${clock(of.wait_s)}`].filter(Boolean);
  return parts.length > 0 ? <p class="times">{parts.join(" · ")}</p> : null;
}

function ZeroTable({ doc, of }: { doc: PlanDoc; of: Step }) {
  const setup = doc.setups.find((one) => one.id === of.setup);
  if (!setup) return null;
  return (
    <table>
      <caption>The zero ({setup.work_offset})</caption>
      <thead><tr><th scope="col">Axis</th><th scope="col">Touch</th><th scope="col">Set to</th><th scope="col">Then check</th></tr></thead>
      <tbody>
        {(["x", "y", "z"] as const).map((axis) => {
          const zero = setup.zero[axis];
          return (
            <tr key={axis}>
              <th scope="row">{axis.toUpperCase()}</th><td>{zero.surface}</td><td class="number">{length(zero.set_to)}</td>
              <td>{zero.check_surface} reads {length(zero.expect)}, give or take {length(zero.within)}</td>
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

// What is set on the machine is not rounded to three digits.
const length = (mm: number) => (units.value === "in" ? `${(mm / 25.4).toFixed(4)} in` : `${mm.toFixed(2)} mm`);

function Programs({ doc, of }: { doc: PlanDoc; of: Step }) {
  const setup = doc.setups.find((one) => one.id === of.setup);
  if (!setup) return null;
  const there = new Set(files.value.map((file) => file.path));
  return (
    <section class="group">
      <h2>Programs</h2>
      {doc.programs_withheld && <p class="finding error">Withheld, because a check fails. See the proof.</p>}
      <ul class="files">
        {[{ file: setup.look_first, time: null, cutters: [] as number[] }, ...setup.programs.map((one) => ({ file: one.file, time: one.duration_s, cutters: one.cutters }))].map((one) => (
          <li key={one.file}>
            {there.has(one.file) ? <a href={packFile(job.value!.id, one.file)} download={one.file.split("/").at(-1)}>{one.file}</a> : <span>{one.file}</span>}
            <span>{one.time === null ? "look first, spindle off" : `${clock(one.time)}, ${one.cutters.map((n) => `T${n}`).join(", ")}`}</span>
          </li>
        ))}
      </ul>
    </section>
  );
}

function All({ doc }: { doc: PlanDoc }) {
  const time = timeOf(doc.steps, doc.setups);
  const money = (value: number) => `${value.toFixed(2)} ${doc.cost.currency}`;
  return (
    <section class="group">
      <h2>The whole making</h2>
      <dl class="facts">
        <div><dt>Hands</dt><dd>{clock(time.hands)}</dd></div>
        <div><dt>Machine</dt><dd>{clock(time.machine)}</dd></div>
        <div><dt>Waiting</dt><dd>{clock(time.waiting)}</dd></div>
        <div><dt>Material used</dt><dd>{money(doc.cost.materials)}</dd></div>
        <div><dt>All in all</dt><dd>{money(doc.cost.total)}</dd></div>
        <div><dt>Least wall</dt><dd>{amount(doc.piece.min_wall_mm, "mm", units.value)}</dd></div>
      </dl>
    </section>
  );
}
