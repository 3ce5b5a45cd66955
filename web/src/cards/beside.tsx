// Another job beside this one: its picture, turned along, and the figures that differ.
import { useEffect, useRef, useState } from "preact/hooks";
import { factsApart, valuesApart } from "../model/differences";
import { groupsOf } from "../model/fields";
import { SIZE, compare, copyAs, folder, job, other, picture } from "../model/state";
import { type Stage, stage } from "../view/stage";

/** The picture of the other. */
export function Beside({ with: first }: { with: Stage }) {
  const within = useRef<HTMLDivElement>(null);
  const drawn = useRef<Stage | null>(null);
  const shown = other.value!.picture;
  useEffect(() => {
    const second = stage(within.current!);
    drawn.current = second;
    if (!second) return;
    // Whichever is turned, both turn.
    const along = first.follow(() => second.turn(first.now()));
    const back = second.follow(() => first.turn(second.now()));
    return () => {
      along();
      back();
      second.end();
    };
  }, [first]);
  useEffect(() => {
    drawn.current?.show(shown.solids, shown.head.boards);
    drawn.current?.alike(first);
  }, [first, shown, picture.value]);
  return (
    <div class="space second">
      <div class="stage" ref={within} tabIndex={0} role="application" aria-label={`${other.value!.job.title} in space`} aria-describedby="turning" />
      <p class="caption"><strong>{[other.value!.job.title, shown.head.facts.find((fact) => fact.label === SIZE)?.value].filter(Boolean).join(", ")}</strong></p>
      <button type="button" class="over" onClick={() => void compare(null)}>Take it away</button>
    </div>
  );
}

/** The part of the card that puts another job beside this one. */
export function Compare() {
  const [name, setName] = useState("");
  const there = other.value;
  const jobs = (folder.value?.jobs ?? []).filter((line) => line.id !== job.value!.id);
  return (
    <section class="group">
      <h2>Beside another</h2>
      {jobs.length > 0 && (
        <div class="field choice">
          <label for="beside">Show beside</label>
          <select id="beside" value={there?.job.id ?? ""} onChange={(event) => void compare(event.currentTarget.value || null)}>
            <option value="">nothing</option>
            {jobs.map((line) => <option key={line.id} value={line.id}>{line.title}</option>)}
          </select>
        </div>
      )}
      <form class="naming" onSubmit={(event) => {
        event.preventDefault();
        void copyAs(name.trim()).then(() => setName(""));
      }}>
        <label for="copy">Keep a copy named</label>
        <input id="copy" type="text" required maxLength={80} value={name} onInput={(event) => setName(event.currentTarget.value)} autocomplete="off" />
        <button type="submit">Keep it</button>
      </form>
      {there && <Table />}
    </section>
  );
}

function Table() {
  const [here, there] = [job.value!, other.value!];
  const labels = new Map([here, there.job].flatMap(groupsOf).flatMap((group) => group.fields).map((field) => [field.path, field.label]));
  const rows = [
    ...valuesApart(here, there.job).map((row) => ({ ...row, label: labels.get(row.label) ?? row.label })),
    ...factsApart(picture.value?.head.facts ?? [], there.picture.head.facts),
  ];
  if (rows.length === 0) return <p>They differ in nothing but their names.</p>;
  return (
    <table>
      <caption>What differs</caption>
      <thead><tr><th scope="col"><span class="unseen">What</span></th><th scope="col">{here.title}</th><th scope="col">{there.job.title}</th></tr></thead>
      <tbody>{rows.map((row) => <tr key={row.label}><th scope="row">{row.label}</th><td>{row.here}</td><td>{row.there}</td></tr>)}</tbody>
    </table>
  );
}
