// All checks at a glance, the worst first; one opens to its figure, its limit, its place and what to change.
import { amount } from "../model/amounts";
import { counted, worstFirst } from "../model/making";
import { check, plan, stale, units } from "../model/state";
import type { CheckDoc } from "../wire/wire";
import { STATE_WORDS, StateMark } from "./marks";
import { NoPlan } from "./planning";
import { WhatIf } from "./whatif";

export function ProofCard() {
  const doc = plan.value;
  if (!doc) return <NoPlan what="The proof reads the programs back, runs them on a simulated workpiece that knows wood from resin, and tells of every check how near it is to its limit." />;
  const count = counted(doc.checks);
  return (
    <>
      {stale.value && <p class="finding warning">The job has changed since this was judged.</p>}
      <h2>What was checked</h2>
      <p class="tally">
        {(["fails", "watch", "holds"] as const).map((state) => count[state] > 0 && (
          <span key={state}><StateMark state={state} /> <b>{count[state]}</b> {state === "holds" ? (count.holds === 1 ? "holds" : "hold") : state === "fails" ? (count.fails === 1 ? "fails" : "fail") : "to watch"}</span>
        ))}
      </p>
      {doc.programs_withheld && <p class="finding error"><strong>The programs are withheld</strong> because a check fails. Mend what fails, and plan again.</p>}
      <ul class="checks">
        {worstFirst(doc.checks).map((one) => <Row key={one.id} one={one} />)}
      </ul>
      <WhatIf />
      <section class="group">
        <h2>What was assumed</h2>
        <ul>{doc.assumed.map((line) => <li key={line}>{line}</li>)}</ul>
        <p>It judges programs, not shops: follow your machine’s manual and the suppliers’ safety sheets.</p>
      </section>
    </>
  );
}

function Row({ one }: { one: CheckDoc }) {
  const open = check.value === one.id;
  return (
    <li class={`check ${one.state}`}>
      <button type="button" aria-expanded={open} onClick={() => { check.value = open ? null : one.id; }}>
        <StateMark state={one.state} />
        <span class="title">{one.title}{one.where?.setup && <small>{one.where.setup}</small>}</span>
        <span class="figure">{amount(one.value, one.unit, units.value)}</span>
      </button>
      {open && (
        <div class="more">
          <dl class="facts">
            <div><dt>It</dt><dd>{STATE_WORDS[one.state]}</dd></div>
            <div><dt>Figure</dt><dd>{amount(one.value, one.unit, units.value)}</dd></div>
            {one.limit != null && <div><dt>Limit</dt><dd>{one.sense} {amount(one.limit, one.unit, units.value)}</dd></div>}
            {one.where?.program && <div><dt>Program</dt><dd>{one.where.program}{one.where.line != null && `, line ${one.where.line}`}</dd></div>}
            {one.where?.at && <div><dt>Place</dt><dd>{one.where.at.map((mm) => amount(mm, "mm", units.value)).join(", ")}</dd></div>}
          </dl>
          {one.block && <pre class="block" tabIndex={0}>{one.block}</pre>}
          {one.remedy && <p><b>What to do:</b> {one.remedy}</p>}
          {(one.assumed?.length ?? 0) > 0 && <p class="source">Assumed: {one.assumed!.join("; ")}</p>}
        </div>
      )}
    </li>
  );
}
