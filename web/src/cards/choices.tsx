// The maker's choices, each with what it would come to in time, money and risk.
import { useEffect, useState } from "preact/hooks";
import { changes, risks } from "../model/choices";
import { choices, choose, lookAtChoices, reckonThese } from "../model/deciding";
import { job, plan, stale } from "../model/state";
import type { ChoiceFigures, OptionView, Question } from "../wire/wire";
import { StateMark } from "./marks";

export function Choices() {
  const sources = job.value!.sources;
  useEffect(() => void lookAtChoices(), [sources, plan.value]);
  const now = choices.value;
  if (!now || now.of !== sources) return null;
  return (
    <section class="group">
      <h2>Your choices</h2>
      <p>Each is planned and proven as a job of its own, in the background, once you ask what it would come to.</p>
      {stale.value && <p class="source">Plan the making again to compare with it.</p>}
      {now.questions.map((question) => <Asked key={question.title} question={question} />)}
      <OtherCutter />
    </section>
  );
}

function Asked({ question }: { question: Question }) {
  const now = question.options.find((option) => option.now)?.comes_to;
  const figures = now?.is === "planned" ? now.figures : null;
  const untried = question.options.filter((option) => !option.now && option.comes_to.is === "untried").map((option) => option.key);
  return (
    <details class="why choices">
      <summary><span>{question.title}</span> <b>{question.options.find((option) => option.now)?.label}</b></summary>
      <ul class="options">
        {question.options.filter((option) => !option.now).map((option) => (
          <li key={option.key}>
            <p><b>{option.label}</b></p>
            <ComesTo option={option} now={figures} />
            <button type="button" onClick={() => void choose(question, option)}>Choose it{question.in_shop && " for this shop"}</button>
          </li>
        ))}
      </ul>
      {untried.length > 0 && <p><button type="button" disabled={figures === null} onClick={() => void reckonThese(untried)}>What would {untried.length === 1 ? "it" : "each"} come to?</button></p>}
    </details>
  );
}

function ComesTo({ option, now }: { option: OptionView; now: ChoiceFigures | null }) {
  const then = option.comes_to;
  if (then.is === "waiting") return <p class="calm" role="status">It is being reckoned …</p>;
  if (then.is === "refused") return <p><StateMark state="fails" /> Not so: {then.why}.</p>;
  if (then.is !== "planned" || !now) return null;
  const { worse, better } = risks(now, then.figures);
  const told = changes(now, then.figures);
  return (
    <>
      <p>{told.length > 0 ? told.join(" · ") : "Neither time nor money changes."}</p>
      <ul class="risks">
        {worse.map((line) => <li key={line}><StateMark state={line.startsWith("fails") ? "fails" : "watch"} /> {line}</li>)}
        {better > 0 && <li><StateMark state="holds" /> {better === 1 ? "one check is better" : `${better} checks are better`}</li>}
        {worse.length === 0 && better === 0 && <li><StateMark state="holds" /> the checks stay as they are</li>}
      </ul>
    </>
  );
}

/** A cutter for a task, to be tried among the choices. */
function OtherCutter() {
  const now = choices.value!;
  const [task, setTask] = useState("finish-inside");
  const [cutter, setCutter] = useState(now.cutters[0]?.[0] ?? 1);
  return (
    <form class="naming" onSubmit={(event) => {
      event.preventDefault();
      void reckonThese([`cutter.${task}=${cutter}`]);
    }}>
      <label for="task">What if</label>
      <select aria-label="Cutter" value={cutter} onChange={(event) => setCutter(Number(event.currentTarget.value))}>
        {now.cutters.map(([number, name]) => <option key={number} value={number}>T{number} {name}</option>)}
      </select>
      <select id="task" value={task} onChange={(event) => setTask(event.currentTarget.value)}>
        {now.tasks.map(([key, words]) => <option key={key} value={key}>did the {words}</option>)}
      </select>
      <button type="submit">Reckon it</button>
    </form>
  );
}
