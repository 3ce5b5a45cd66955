// The card that shapes the piece: what is known of it, what is wrong, and every value in trade words.
import { useState } from "preact/hooks";
import { groupsOf, newCast } from "../model/fields";
import { SIZE, findings, job, picture, saveEdits, stale, work } from "../model/state";
import { Compare } from "./beside";
import { FieldRow } from "./field";
import { Findings } from "./findings";
import { TextDialog } from "./words";

export function ShapeCard() {
  const [writing, setWriting] = useState(false);
  const now = job.value!;
  const readable = Object.keys(now.values).length > 0;
  // The size stands beneath the picture.
  const facts = (picture.value?.head.facts ?? []).filter((fact) => fact.label !== SIZE);
  return (
    <>
      <Findings list={work.value.is === "refused" && !stale.value && work.value.of === now.sources ? work.value.findings : findings.value} />
      {facts.length > 0 && (
        <dl class="facts">
          {facts.map((fact) => <div key={fact.label}><dt>{fact.label}</dt><dd>{fact.value}</dd></div>)}
        </dl>
      )}
      {readable ? groupsOf(now).map((group) => (
        <section class="group" key={group.title}>
          <h2>{group.title}</h2>
          {group.fields.map((field) => <FieldRow key={`${now.id} ${field.path}`} field={field} />)}
          {group.cast !== undefined && (
            <button type="button" onClick={() => void saveEdits([{ path: `cast.${group.cast}`, to: { as: "gone" } }])}>Leave this resin out</button>
          )}
        </section>
      )) : <p class="lead">The text can’t be read yet. Mend it below; then the values can be set here.</p>}
      {readable && (
        <section class="group">
          <h2>More resin</h2>
          <p class="row">
            <button type="button" onClick={() => void saveEdits([{ path: "cast", to: { as: "more", toml: newCast(now, "ring-band") } }])}>Add a ring</button>
            <button type="button" onClick={() => void saveEdits([{ path: "cast", to: { as: "more", toml: newCast(now, "rim-drips") } }])}>Add a rim with drips</button>
            <button type="button" onClick={() => void saveEdits([{ path: "cast", to: { as: "more", toml: newCast(now, "river") } }])}>Add a river</button>
          </p>
        </section>
      )}
      <Compare />
      <section class="group">
        <h2>The text</h2>
        <p>All of this is the file {now.file}. It is yours: edit it here or in any editor, and both stay the same.</p>
        <p><button type="button" onClick={() => setWriting(true)}>Open the text</button></p>
      </section>
      {writing && <TextDialog close={() => setWriting(false)} />}
    </>
  );
}
