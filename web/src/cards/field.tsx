// One value of the piece: its name in trade words, as it is written, and a slider where it is a size.
import { useEffect, useState } from "preact/hooks";
import { type Field, lengthText, shownNumber, slid, standing, typed } from "../model/fields";
import { findings, job, saveEdits, show, units } from "../model/state";
import type { NewValue } from "../wire/wire";

export function FieldRow({ field }: { field: Field }) {
  const id = `field-${field.path}`;
  const wrong = findings.value.find((finding) => finding.field === field.path || (field.is === "kind" && finding.field?.startsWith(`${field.path}.`)));
  const about = wrong ? `${id}-wrong` : undefined;
  return (
    <div class={`field ${field.is}${wrong ? ` ${wrong.severity}` : ""}`}>
      <label for={id}>{field.label}{field.is === "length" && field.note && <small>{field.note}</small>}</label>
      <Control field={field} id={id} about={about} />
      {wrong && <p id={about} class="wrong">{wrong.hint ?? wrong.text}</p>}
    </div>
  );
}

interface Props<F extends Field = Field> {
  field: F;
  id: string;
  about: string | undefined;
}

const save = (field: Field, to: NewValue) => void saveEdits([{ path: field.path, to }]);

function Control({ field, id, about }: Props) {
  switch (field.is) {
    case "length":
    case "number": return <Size field={field} id={id} about={about} />;
    case "choice": return <Choice field={field} id={id} about={about} />;
    case "kind": return <Kind field={field} id={id} about={about} />;
    case "colour": return <Colour field={field} id={id} about={about} />;
    case "flag": return <Flag field={field} id={id} about={about} />;
    case "text": return <Plain field={field} id={id} about={about} />;
  }
}

/** A text box that is saved when it is left or Enter is pressed. */
function Box({ id, about, value, label, commit }: { id: string; about: string | undefined; value: string; label?: string; commit: (text: string) => void }) {
  const [text, setText] = useState(value);
  useEffect(() => setText(value), [value]);
  const done = () => {
    if (text.trim() !== value) commit(text);
  };
  return (
    <input
      id={id} type="text" value={text} aria-label={label} aria-describedby={about} autocomplete="off" spellcheck={false}
      onInput={(event) => setText(event.currentTarget.value)}
      onBlur={done}
      onKeyDown={(event) => {
        if (event.key === "Enter") done();
        if (event.key === "Escape") setText(value);
      }}
    />
  );
}

function Size({ field, id, about }: Props<Field & { is: "length" | "number" }>) {
  const value = job.value!.values[field.path];
  const stands = standing(field, value);
  const [held, setHeld] = useState<number | null>(null);
  // Once it is saved, the text says it.
  useEffect(() => setHeld(null), [value?.text, job.value!.version]);
  const at = held ?? stands;
  const written = held !== null
    ? (field.is === "length" ? lengthText(held, units.value) : shownNumber(field, held))
    : field.is === "number" && stands !== null ? shownNumber(field, stands) : (value?.text ?? "");
  // In inches a slider stops at sixteenths, fine ones at sixty-fourths.
  const step = field.is === "length" && units.value === "in" && field.step >= 0.1 ? 25.4 / (field.step >= 0.5 ? 16 : 64) : field.step;
  const least = Math.min(field.least, at ?? field.least);
  return (
    <>
      <span class="boxed">
        <Box id={id} about={about} value={written} commit={(text) => {
          const to = typed(field, text);
          if (to) save(field, to);
        }} />
        {field.is === "number" && field.unit && <span>{field.unit}</span>}
      </span>
      <input
        type="range" aria-label={`${field.label}, slider`} min={Math.floor(least / step) * step} max={Math.max(field.most, at ?? field.most)} step={step} value={at ?? field.least}
        aria-valuetext={written}
        onInput={(event) => {
          const now = rounded(event.currentTarget.valueAsNumber);
          setHeld(now);
          show([{ path: field.path, to: slid(field, now) }]);
        }}
        onChange={(event) => save(field, slid(field, rounded(event.currentTarget.valueAsNumber)))}
      />
    </>
  );
}

const rounded = (value: number) => Math.round(value * 1e5) / 1e5;

function Choice({ field, id, about }: Props<Field & { is: "choice" }>) {
  const value = job.value!.values[field.path]?.text ?? "";
  const known = field.options.some((option) => option.value === value);
  return (
    <select id={id} aria-describedby={about} value={value} onChange={(event) => save(field, { as: "text", value: event.currentTarget.value })}>
      {!known && <option value={value}>{value || "not said"}</option>}
      {field.options.map((option) => <option key={option.value} value={option.value}>{option.label}</option>)}
    </select>
  );
}

function Kind({ field, id, about }: Props<Field & { is: "kind" }>) {
  const value = job.value!.values[`${field.path}.kind`]?.text ?? "";
  const known = field.options.some((option) => option.kind === value);
  return (
    <select
      id={id} aria-describedby={about} value={value}
      onChange={(event) => {
        const wanted = field.options.find((option) => option.kind === event.currentTarget.value);
        if (wanted) save(field, { as: "table", toml: wanted.toml });
      }}
    >
      {!known && <option value={value}>{value || "not said"}</option>}
      {field.options.map((option) => <option key={option.kind} value={option.kind}>{option.label}</option>)}
    </select>
  );
}

function Colour({ field, id, about }: Props) {
  const value = job.value!.values[field.path]?.text ?? "#808080";
  return (
    <input
      id={id} type="color" aria-describedby={about} value={/^#[0-9a-f]{6}$/i.test(value) ? value : "#808080"}
      onInput={(event) => show([{ path: field.path, to: { as: "text", value: event.currentTarget.value } }])}
      onChange={(event) => save(field, { as: "text", value: event.currentTarget.value })}
    />
  );
}

function Flag({ field, id, about }: Props<Field & { is: "flag" }>) {
  const on = job.value!.values[field.path]?.text === "true";
  return (
    <select id={id} aria-describedby={about} value={String(on)} onChange={(event) => save(field, { as: "flag", value: event.currentTarget.value === "true" })}>
      <option value="true">{field.on}</option>
      <option value="false">{field.off}</option>
    </select>
  );
}

function Plain({ field, id, about }: Props) {
  return <Box id={id} about={about} value={job.value!.values[field.path]?.text ?? ""} commit={(text) => save(field, { as: "text", value: text.trim() })} />;
}
